// Every page works without this file.
"use strict";
(function () {
  const box = document.querySelector("[data-search]");
  const typing = (element) => /^(INPUT|SELECT|TEXTAREA)$/.test(element.tagName) || element.isContentEditable;

  document.addEventListener("keydown", function (event) {
    if (!box || event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    if (event.key === "/") {
      event.preventDefault();
      box.focus();
      box.select();
    }
  });

  const print = document.querySelector("[data-print]");
  if (print) {
    print.hidden = false;
    print.addEventListener("click", function () { window.print(); });
  }

  // Hits while typing, on the home page; Enter loads the page itself.
  const answers = document.querySelector("[data-answers]");
  if (!box || !answers) return;
  let waiting = 0;
  let shown = box.value;
  async function answer() {
    const words = box.value.trim();
    if (words === shown) return;
    shown = words;
    const response = await fetch(answers.dataset.answers + "?q=" + encodeURIComponent(words));
    if (response.redirected) window.location.reload(); // The session has expired.
    else if (response.ok && box.value.trim() === words) answers.innerHTML = await response.text();
  }
  box.addEventListener("input", function () {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(answer, 250);
  });
})();
