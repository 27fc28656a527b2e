/* Says in one sentence why the page cannot be set up, where a script of it cannot be read or run. It is
   written so that old browsers read it too, and loaded before all other scripts. */

(function () {
  "use strict";

  var PATIENCE = 30000; // ms after which the page says that it takes long
  var OLD = "This browser is too old for the page of Turnlight; open it in a present one: Firefox, Chrome, Edge or Safari.";
  var waiting = true, told = null;

  function isSettingUp() {
    // The framework puts the page in place of the first sentence.
    waiting = waiting && !document.querySelector(".page, [data-test=lost]");
    return waiting;
  }

  function put() {
    var app = document.getElementById("app"), main, paragraph;
    if (!told || !app || app.hidden) return; // The first cause is shown already.
    main = document.createElement("main");
    paragraph = document.createElement("p");
    main.className = "lost";
    main.setAttribute("data-test", told.name);
    main.setAttribute("role", "alert");
    paragraph.textContent = told.sentence;
    main.appendChild(paragraph);
    app.hidden = true;
    app.parentNode.insertBefore(main, app);
  }

  /** Show a sentence in place of the page; the first one stays. */
  window.turnlight_show_instead = function (sentence, name) {
    told = told || { sentence: sentence, name: name };
    put();
  };

  function fail(cause) {
    if (!isSettingUp()) return;
    window.turnlight_show_instead(
      "The page cannot be set up: " + cause + " Load it again; if this stays, use another browser, or one without " +
        "programs that block scripts.",
      "failed",
    );
  }

  function fileOf(address) {
    return String(address || "").split("?")[0].split("/").pop();
  }

  window.addEventListener(
    "error",
    function (event) {
      var part = event.target;
      if (part && part.tagName === "SCRIPT") {
        fail("the part " + fileOf(part.src) + " was not let through, or is not there.");
      } else if (part === window && event.message) {
        fail(event.message + (event.filename ? " in " + fileOf(event.filename) : "") + ".");
      }
    },
    true, // what fails to load tells nobody further out
  );

  window.addEventListener("unhandledrejection", function (event) {
    var reason = event.reason;
    // A plain object is a refusal of the program, which has its own sentence.
    if (reason instanceof Error) fail(reason.message + ".");
  });

  document.addEventListener("DOMContentLoaded", function () {
    put();
    if (!("noModule" in document.createElement("script"))) window.turnlight_show_instead(OLD, "failed");
  });

  setTimeout(function () {
    var place = document.querySelector("#app .lost p");
    if (isSettingUp() && place && !told) {
      place.textContent = "Setting up the page takes longer than usual; if this stays, load it again or use another browser.";
    }
  }, PATIENCE);
})();
