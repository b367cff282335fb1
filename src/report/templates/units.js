// Remembers the choice of units from page to page; the switch itself is plain style.
(function () {
  "use strict";
  var own = document.getElementById("units-own");
  var si = document.getElementById("units-si");
  if (!own || !si) return;
  var key = "benchborne-units";
  function attempt(what) {
    try {
      return what();
    } catch (refused) {
      // Some browsers keep nothing for pages opened from a file.
      return null;
    }
  }
  if (attempt(function () { return localStorage.getItem(key); }) === "own") own.checked = true;
  [own, si].forEach(function (box) {
    box.addEventListener("change", function () {
      attempt(function () { localStorage.setItem(key, own.checked ? "own" : "si"); });
    });
  });
})();
