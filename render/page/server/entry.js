/* How the page shows that it is Turnlight's own: by a secret in its storage, which pages of other
   ports cannot read, though their servers are sent the same cookies. */

"use strict";

(() => {
  const NAME = "turnlight-page", HEADER = "Turnlight-Page";

  const secret = () => {
    try {
      return localStorage.getItem(NAME) || "";
    } catch {
      return ""; // Storage is switched off; the program says then that the page is not its own.
    }
  };
  const own = (address) => new URL(address, document.baseURI).origin === location.origin;

  // The page that follows a key is nothing but a way in.
  const given = document.querySelector(`meta[name="${NAME}"]`);
  if (given) {
    try {
      localStorage.setItem(NAME, given.content);
    } finally {
      location.replace("/");
    }
    return;
  }

  /** Ask the program for something of the design. */
  window.turnlight_fetch = (address, options = {}) =>
    own(address)
      ? fetch(address, { ...options, headers: { ...options.headers, [HEADER]: secret() } })
      : Promise.reject(new TypeError("That is no address of this page."));

  /** Say in place of the page why there is none; the framework's client has words of its own. */
  const tell = (sentence) => {
    const place = document.getElementById("app");
    const told = document.createElement("main"), words = document.createElement("p");
    told.className = "lost";
    told.dataset.test = "unproven";
    words.textContent = sentence;
    told.append(words);
    place.hidden = true;
    place.before(told);
  };

  // The framework's client asks by this for the address of its socket.
  const { open } = XMLHttpRequest.prototype;
  XMLHttpRequest.prototype.open = function (method, address, ...rest) {
    open.call(this, method, address, ...rest);
    if (!own(address)) return;
    this.setRequestHeader(HEADER, secret());
    this.addEventListener("load", () => {
      if (this.status === 403) tell(this.response.error);
    });
  };
})();
