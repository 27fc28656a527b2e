/* Proof that a request comes from this page: a secret in the page's storage. Pages of other ports
   cannot read it, although their servers receive the same cookies. */

"use strict";

(() => {
  const NAME = "turnlight-page", HEADER = "Turnlight-Page";

  const secret = () => {
    try {
      return localStorage.getItem(NAME) || "";
    } catch {
      return ""; // Storage is switched off; the program then refuses the page's requests.
    }
  };
  const isOwn = (address) => new URL(address, document.baseURI).origin === location.origin;

  // The welcome page after a key only stores the secret and opens the page.
  const secretTag = document.querySelector(`meta[name="${NAME}"]`);
  if (secretTag) {
    try {
      localStorage.setItem(NAME, secretTag.content);
    } finally {
      location.replace("/");
    }
    return;
  }

  /** Fetch from the program, with the secret. */
  window.turnlight_fetch = (address, options = {}) =>
    isOwn(address)
      ? fetch(address, { ...options, headers: { ...options.headers, [HEADER]: secret() } })
      : Promise.reject(new TypeError("That is no address of this page."));

  const showInstead = (sentence) => window.turnlight_show_instead(sentence, "unproven");
  const UNREACHED = "Turnlight does not answer; load this page again when it does.";

  /** When the program was heard last, on the clock of `performance.now`. */
  window.turnlight_heard = performance.now();

  // The framework's client tells neither that a message has come nor why there is no connection.
  const { WebSocket } = window;
  window.WebSocket = class extends WebSocket {
    constructor(...given) {
      super(...given);
      let opened = false;
      this.addEventListener("open", () => (opened = true));
      this.addEventListener("message", () => (window.turnlight_heard = performance.now()));
      this.addEventListener("close", () => opened || showInstead(UNREACHED));
    }
  };

  // The framework's client requests the address of its socket by XMLHttpRequest.
  const { open } = XMLHttpRequest.prototype;
  XMLHttpRequest.prototype.open = function (method, address, ...rest) {
    open.call(this, method, address, ...rest);
    if (!isOwn(address)) return;
    this.setRequestHeader(HEADER, secret());
    this.addEventListener("load", () => {
      if (this.status >= 400) showInstead((this.response && this.response.error) || UNREACHED);
    });
    this.addEventListener("error", () => showInstead(UNREACHED));
  };
})();
