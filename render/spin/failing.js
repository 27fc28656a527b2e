
(function () {
  "use strict";
  // Says that the rod cannot be turned, where the script below cannot be read or run; old browsers
  // read this one too.
  window.addEventListener("error", function () {
    var sentence = document.getElementById("unturned");
    if (!sentence || sentence.hidden) return;
    sentence.setAttribute("role", "alert");
    sentence.textContent = "This browser cannot turn the rod: it is too old, or blocks scripts. Open the file in " +
      "another one, such as a present Firefox, Chrome, Edge or Safari.";
  });
})();
