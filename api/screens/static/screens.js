// Every page works without this file.
"use strict";
(function () {
  const box = document.querySelector("[data-search]");
  const report = document.querySelector("[data-report]");
  const act = document.querySelector("form[data-ready]");
  const words = (field) => /^(text|search|password|email|url|tel|date|datetime-local)$/.test(field.type || "") ||
    field.tagName === "TEXTAREA" || field.isContentEditable;

  // Ready for the next key: a report before anything, so that Enter pressed twice books once; else what the act still asks.
  const asked = act && act.elements[act.dataset.ready];
  const still = act && ((asked && asked[0] && !asked.options ? asked[0] : asked) || act.querySelector("[type=submit]"));
  const ready = report || document.querySelector("[data-doubtful]") || still;

  // The browser focuses the field that a page names with its first picture only: a key that comes before goes there too.
  const named = document.querySelector("[autofocus]");
  let nothingFocused = true;
  document.addEventListener("focusin", function () { nothingFocused = false; }, { once: true });
  function fieldOf(event) {
    if (!nothingFocused || !named) return event.target;
    named.focus();
    return named;
  }
  if (ready) ready.focus({ preventScroll: ready === still });
  const number = ready === still && act && act.querySelector("input[inputmode=numeric]");

  // A scanner types wherever it is: what is typed into no field of words goes into the box. A digit goes to the number that
  // an act asks for, until it turns out to begin a code: by another character, or by the speed of a scanner. A size may have
  // other characters (12,7 or 1/2 in), so that there only the speed tells.
  const FAST_MS = 40, SURE = 3, PAUSE_MS = 600;
  const since = (gap) => ({ gap: gap, text: "", before: "" });
  const burst = since(FAST_MS), run = since(PAUSE_MS);
  let last = 0;
  const held = (field) => (field.tagName === "SELECT" ? field.selectedIndex : field.value);
  function into(found, text) {
    found.value = text;
    found.focus();
    found.dispatchEvent(new Event("input"));
  }
  document.addEventListener("keydown", function (event) {
    const key = event.key;
    if (!box || event.ctrlKey || event.metaKey || event.altKey || key.length !== 1) return;
    const field = fieldOf(event);
    const isNumber = field.inputMode === "numeric", isSize = field.inputMode === "decimal";
    const isSelect = field.tagName === "SELECT", isSearch = field.type === "search";
    if (!isSearch && words(field) && !isNumber && !isSize) return;
    const toNumber = number && !isNumber && !isSize && !isSelect && /\d/.test(key);
    for (const one of [burst, run]) {
      if (event.timeStamp - last > one.gap) Object.assign(one, { text: "", before: held(toNumber ? number : field) });
      one.text += key;
    }
    last = event.timeStamp;
    if (isSearch) {
      // A scan into a box takes the place of what stood there; what a hand types goes on with it.
      if (burst.text.length < SURE || run.text !== burst.text || !burst.before) return;
      event.preventDefault();
      into(field, burst.text);
      burst.before = "";
    } else if (isNumber || isSize || isSelect) {
      const code = burst.text.length >= SURE ? burst : isNumber && !/\d/.test(key) ? run : null;
      if (!code) return;
      event.preventDefault();
      if (isSelect) field.selectedIndex = code.before;
      else field.value = code.before;
      into(box, code.text);
    } else if (key === "/") {
      event.preventDefault();
      into(box, "");
    } else if (toNumber) {
      number.value = "";
      number.focus();
    } else if (key !== " ") {
      box.value = "";
      box.focus();
    }
  });

  // An act is sent without leaving the page: when nothing arrives, what was entered stays, and the same key books it once.
  document.addEventListener("submit", async function (event) {
    const form = event.target;
    if (!form.matches("[data-send]")) return;
    event.preventDefault();
    const button = event.submitter || form.querySelector("button[type=submit]");
    const lost = form.querySelector("[data-lost]");
    const sent = new FormData(form); // Before the button is disabled; it may say which of two acts is meant.
    if (button.name) sent.append(button.name, button.value);
    button.disabled = true;
    lost.hidden = true;
    try {
      const headers = { "Sent-By-Script": "yes" };
      const response = await fetch(form.action, { method: "POST", body: sent, headers });
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

  // What is being calculated is fetched again until it is there, but not while somebody fills in a field.
  function comeAgain() {
    const waiting = document.querySelector("[data-refresh]");
    if (!waiting) return;
    window.setTimeout(async function () {
      try {
        const response = document.activeElement.closest("main form") ? null : await fetch(window.location.href);
        if (response && response.redirected) window.location.reload(); // The session has expired.
        else if (response && response.ok) {
          const page = new DOMParser().parseFromString(await response.text(), "text/html");
          document.querySelector("main").replaceWith(page.querySelector("main"));
        }
      } catch (error) { /* Without a connection it is tried again. */ }
      comeAgain();
    }, 1000 * Number(waiting.dataset.refresh));
  }
  comeAgain();

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
    const text = box.value.trim();
    if (text === shown) return;
    shown = text;
    const asked = new URLSearchParams(new FormData(box.form));
    const response = await fetch(answers.dataset.answers + "?" + asked);
    if (response.redirected) window.location.reload(); // The session has expired.
    else if (response.ok && box.value.trim() === text) answers.innerHTML = await response.text();
  }
  box.addEventListener("input", function () {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(answer, 250);
  });
})();
