// Lamps to touch, pages that follow other devices, times of day, and a few small aids. Nothing here reasons.
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
function unsaved(form) {
  return `foible ${board().dataset.case} ${form.dataset.answer}`;
}

function keep(form) {
  if (!form || !board()) return;
  const given = {};
  for (const lamp of form.querySelectorAll("[data-lamp]")) given[lamp.dataset.lamp] = field(lamp).value;
  for (const box of form.querySelectorAll("[type=checkbox]")) given[box.name] = box.checked;
  for (const text of form.querySelectorAll("[data-keyed]")) given[text.name] = text.value;
  sessionStorage.setItem(unsaved(form), JSON.stringify(given));
}

function restore() {
  const form = document.querySelector("form[data-answer]");
  if (!form || !board()) return;
  const given = JSON.parse(sessionStorage.getItem(unsaved(form)) || "{}");
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

function ready() {
  restore();
  keys();
}

function board() {
  return document.getElementById("board");
}

function notice(text, action) {
  const place = document.getElementById("notice");
  place.replaceChildren();
  if (!text) return;
  const box = document.createElement("div");
  box.className = "refused";
  const words = document.createElement("p");
  words.textContent = text;
  box.append(words);
  if (action) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "reload";
    button.addEventListener("click", action);
    box.append(button);
  }
  place.append(box);
}

function follow() {
  const own = board();
  if (!own || !window.EventSource) return;
  const source = new EventSource(`/cases/${own.dataset.case}/changes`);
  source.addEventListener("message", (event) => setTimeout(() => changed(Number(event.data)), 250));
  window.addEventListener("pagehide", () => source.close());
}

function load(address = window.location.pathname + window.location.search) {
  notice("");
  return window.htmx.ajax("GET", address, { target: "#board", swap: "outerHTML" });
}

// The answer is kept; how the case stands now is asked for next.
document.addEventListener("noted", () => {
  const done = document.querySelector("[data-answer] .chief");
  if (done) done.textContent = "saved …";
  const form = document.querySelector("form[data-answer]");
  if (form) sessionStorage.removeItem(unsaved(form));
  for (const button of document.querySelectorAll("[data-answer] button")) button.disabled = true;
  window.history.replaceState(null, "", window.location.pathname); // a trial that was picked has been made
  load();
});

function changed(version) {
  const now = board();
  if (!now || version <= Number(now.dataset.version) || document.querySelector(".htmx-request")) return;
  const begun = [...now.querySelectorAll("[data-answer] input:not([type=hidden]), [data-lamp] + input")].some((each) =>
    each.type === "checkbox" ? each.checked : each.value
  );
  if (begun) notice("Another device has answered in this case. Your answer is still here.", () => load());
  else load().then(() => notice("Another device has answered in this case: the question may have changed."));
}

document.addEventListener("click", (event) => {
  const lamp = event.target.closest("[data-lamp]");
  if (lamp) {
    touch(lamp);
    keep(lamp.closest("form[data-answer]"));
  }
  const key = event.target.closest("[data-key]");
  if (key) press(key.dataset.key);
  if (event.target.closest("[data-letters]")) keys(true);
});

document.addEventListener("input", (event) => {
  keep(event.target.closest("form[data-answer]"));
  const list = event.target.dataset.filter;
  if (!list) return;
  const words = event.target.value.toLowerCase().split(/\s+/);
  for (const row of document.querySelectorAll(`${list} > li`)) {
    const text = row.textContent.toLowerCase();
    row.hidden = !words.every((word) => text.includes(word));
  }
});

document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-auto]");
  if (form) form.requestSubmit();
});

document.addEventListener("htmx:beforeRequest", () => notice(""));
document.addEventListener("htmx:sendError", () =>
  notice("The machine that runs Foible is not responding. Your answer is still here: try again in a moment.")
);
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "board" && event.target.id !== "board") return;
  ready();
  const now = board();
  const live = document.getElementById("live");
  if (live) live.textContent = now.dataset.first ? `First suspect: ${now.dataset.first}` : "";
  const title = document.getElementById("ask-title");
  if (event.detail.requestConfig?.path.endsWith("/proof")) {
    (document.querySelector(".verdicts button") || title).focus({ preventScroll: true }); // the next line stays under the thumb
    return;
  }
  if (title && !event.detail.requestConfig.triggeringEvent?.data) title.focus({ preventScroll: window.scrollY < 200 });
  if (window.matchMedia("(max-width: 700px)").matches) window.scrollTo({ top: 0 });
});

function localTimes() {
  const format = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" });
  for (const time of document.querySelectorAll("time[datetime]")) {
    time.textContent = format.format(new Date(time.dateTime));
  }
  for (const zone of document.querySelectorAll("[data-zone]")) zone.value = format.resolvedOptions().timeZone;
}

document.addEventListener("DOMContentLoaded", () => {
  localTimes();
  ready();
  const passphrase = document.querySelector("[data-from-address]");
  if (passphrase && window.location.hash) {
    passphrase.value = decodeURIComponent(window.location.hash.slice(1));
    window.history.replaceState(null, "", window.location.pathname);
  }
  follow();
});

window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
