"use strict";
/* Boxes that scripts of the administration draw in place of a field get the name of that field, for who cannot see them. */
(function () {
  function nameBoxes() {
    document.querySelectorAll("select.select2-hidden-accessible").forEach(function (field) {
      const label = document.querySelector('label[for="' + field.id + '"]');
      const words = label ? label.textContent.trim() : field.getAttribute("aria-label") || field.name;
      const drawn = field.nextElementSibling;
      if (!drawn) return;
      const box = drawn.querySelector(".select2-selection");
      const chosen = drawn.querySelector(".select2-selection__rendered");
      if (box) {
        box.removeAttribute("aria-labelledby");
        box.setAttribute("aria-label", words + (chosen && chosen.title ? " " + chosen.title : ""));
      }
      if (chosen && chosen.getAttribute("role") === "textbox") chosen.setAttribute("aria-label", words);
      const typed = drawn.querySelector(".select2-search__field");
      if (typed) typed.setAttribute("aria-label", words);
    });
    document.querySelectorAll(".datetime input").forEach(function (field) {
      const row = field.closest(".form-row, td");
      const label = row && row.querySelector("label, legend");
      const part = field.previousSibling ? field.previousSibling.textContent.trim() : "";
      field.setAttribute("aria-label", ((label ? label.textContent.trim() : field.name) + " " + part).trim());
    });
    document.querySelectorAll(".help-tooltip[aria-label]").forEach(function (sign) { sign.setAttribute("role", "img"); });
  }

  // Behind those scripts, which draw once the page is loaded, when a row is added and when something is chosen.
  ["load", "formset:added", "change"].forEach(function (event) {
    window.addEventListener(event, function () { window.setTimeout(nameBoxes, 0); });
  });
})();
