// Lamps to touch, readings to key in, and what was touched kept until it is said. Nothing here reasons, and nothing is sent.
"use strict";

const STATES = ["", "steady", "flickers", "sometimes"];
const WORDS = { out: "dark", steady: "lit", flickers: "flickers", sometimes: "sometimes", before: "all along" };

function field(lamp) {
  return lamp.nextElementSibling;
}

function show(lamp, state) {
  const words = state ? WORDS[state] : lamp.dataset.dark;
  field(lamp).value = state;
  lamp.dataset.state = state;
  lamp.querySelector(".state").textContent = words;
  lamp.setAttribute("aria-label", `${lamp.dataset.name}: ${words}`);
}

function touch(lamp) {
  const last = "before" in lamp.dataset ? ["before"] : "optional" in lamp.dataset ? ["out"] : [];
  const states = [...STATES, ...last];
  const next = states[(states.indexOf(field(lamp).value) + 1) % states.length];
  show(lamp, next);
  if (next === "steady" || next === "before") {
    // Lamps of one group do not light together: an apparatus shows white or coloured for one hit, not both steadily.
    for (const other of lamp.closest("[data-lamps]").querySelectorAll(`[data-group="${lamp.dataset.group}"]`)) {
      if (other !== lamp && ["steady", "before"].includes(field(other).value)) show(other, "");
    }
  }
  label(lamp.closest("form"));
}

function label(form) {
  const done = form && form.querySelector("[data-done]");
  if (!done) return;
  const lit = [...form.querySelectorAll("[data-lamp]")].some((lamp) => field(lamp).value && field(lamp).value !== "out");
  done.querySelector("[data-words]").textContent = lit ? done.dataset.something : done.dataset.nothing;
}

// What was touched and not yet saved outlives a reload, and a look at a suspect: kept for this tab, by case and question.
function unsaved(name, question) {
  return `foible ${name} ${question}`;
}

function unsavedBy(form) {
  return unsaved(board().dataset.case, form.dataset.answer);
}

function keep(form) {
  if (!form || !board()) return;
  const given = {};
  for (const lamp of form.querySelectorAll("[data-lamp]")) given[lamp.dataset.lamp] = field(lamp).value;
  for (const box of form.querySelectorAll("[type=checkbox]")) given[box.name] = box.checked;
  for (const text of form.querySelectorAll("[data-keyed]")) given[text.name] = text.value;
  sessionStorage.setItem(unsavedBy(form), JSON.stringify(given));
}

function restore() {
  const form = document.querySelector("form[data-answer]");
  if (!form || !board()) return;
  const given = JSON.parse(sessionStorage.getItem(unsavedBy(form)) || "{}");
  for (const lamp of form.querySelectorAll("[data-lamp]")) if (given[lamp.dataset.lamp]) show(lamp, given[lamp.dataset.lamp]);
  for (const box of form.querySelectorAll("[type=checkbox]")) box.checked = Boolean(given[box.name]);
  for (const text of form.querySelectorAll("[data-keyed]")) text.value = given[text.name] || "";
  label(form);
}

// Under a thumb a reading has keys of its own: figures, “open”, “to”. The letters are one tap away.
function keys(letters = false) {
  for (const text of document.querySelectorAll("[data-keyed]")) {
    const ours = !letters && window.matchMedia("(pointer: coarse)").matches;
    document.getElementById(text.dataset.keyed).hidden = !ours;
    text.inputMode = ours ? "none" : "text";
    if (letters) text.focus();
  }
}

function press(key) {
  const text = document.querySelector("[data-keyed]");
  text.value = key === "⌫" ? text.value.trimEnd().replace(/(open|over|to|.)$/, "") : text.value + key;
  keep(text.form);
}
