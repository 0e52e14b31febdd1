// Keys for a case on a laptop: each presses a button that the page shows. They can be turned off, and rest while one types.
"use strict";

const OFF = "foible keys off";
const PRESSED = {
  u: ".others form[action$='/take-back'] button",
  k: ".others form[action$='/skip'] button",
  t: ".others a[href$='/trials']",
  o: ".others a[href$='/own']",
  d: ".act .deeds button",
  y: ".verdicts button[value='passed']",
  n: ".verdicts [aria-label^='failed']",
  s: "form[data-answer] [data-done], .ask > form[action$='/ending'] .chief",
};

function numbered() {
  const own = document.querySelectorAll("form[data-answer] [data-lamp], form[data-answer] .quick-answer, form[data-answer] .signs button");
  return [...own].filter((each) => each.checkVisibility());
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || localStorage.getItem(OFF)) return;
  if (event.target.closest("input:not([type=checkbox], [type=radio]), select, textarea")) return;
  const found = /^[1-9]$/.test(event.key) ? numbered()[Number(event.key) - 1] : document.querySelector(PRESSED[event.key] || "#none");
  if (!found || found.disabled) return;
  event.preventDefault();
  found.click();
});

document.addEventListener("DOMContentLoaded", () => {
  const box = document.querySelector("[data-keys]");
  if (!box) return;
  box.checked = !localStorage.getItem(OFF);
  box.addEventListener("change", () => (box.checked ? localStorage.removeItem(OFF) : localStorage.setItem(OFF, "yes")));
});
