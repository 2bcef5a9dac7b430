// Every page works without this file.
"use strict";
(function () {
  const box = document.querySelector("[data-search]");
  const typing = (element) => /^(INPUT|SELECT|TEXTAREA)$/.test(element.tagName) || element.isContentEditable;

  // A scanner types wherever it is: what is typed into no field goes into the box. Enter and the space bar stay with the button.
  document.addEventListener("keydown", function (event) {
    if (!box || event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    if (event.key === "/") event.preventDefault();
    else if (event.key.length !== 1 || event.key === " ") return;
    box.value = "";
    box.focus();
  });

  const ready = document.querySelector("[data-ready]");
  if (ready) ready.focus({ preventScroll: true });

  // An act is sent without leaving the page: when nothing arrives, what was entered stays, and the same key books it once.
  document.addEventListener("submit", async function (event) {
    const form = event.target;
    if (!form.matches("[data-send]")) return;
    event.preventDefault();
    const button = form.querySelector("button[type=submit]");
    const lost = form.querySelector("[data-lost]");
    button.disabled = true;
    lost.hidden = true;
    try {
      const headers = { "Sent-By-Script": "yes" };
      const response = await fetch(form.action, { method: "POST", body: new FormData(form), headers });
      if (response.status === 204) window.location.assign(response.headers.get("Location"));
      else if (response.redirected) window.location.reload(); // The session has expired.
      else {
        const page = new DOMParser().parseFromString(await response.text(), "text/html");
        document.querySelector("main").replaceWith(page.querySelector("main"));
        (document.querySelector("#faults") || document.querySelector("main")).focus();
      }
    } catch (error) {
      lost.hidden = false;
    }
    button.disabled = false;
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
