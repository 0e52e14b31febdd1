// Pages that follow other devices and what was said on this one, times of day, and a few small aids. Nothing here reasons.
"use strict";

function board() {
  return document.getElementById("board");
}

function ready() {
  restore();
  keys();
  localTimes();
  for (const form of caseForms()) tell(form, "");
  paint();
}

function notice(text, action, html = "") {
  const place = document.getElementById("notice");
  place.replaceChildren();
  if (!text) return;
  const box = document.createElement("div");
  box.className = "refused";
  const words = document.createElement("p");
  words.textContent = text;
  box.append(words);
  if (html) box.insertAdjacentHTML("beforeend", html);
  if (action) box.append(button("reload", action));
  place.append(box);
}

function follow() {
  const own = board();
  if (!own || !window.EventSource) return;
  const source = new EventSource(`/cases/${own.dataset.case}/changes`);
  source.addEventListener("message", (event) => setTimeout(() => changed(Number(event.data)), 250));
  source.addEventListener("open", () => send()); // the server is back, or was never away
  window.addEventListener("pagehide", () => source.close());
}

// Load how the case stands now, after something was said by the form at `path`. Until it is here, the old question takes no answer.
async function load(path = "", address = window.location.pathname + window.location.search) {
  if (path) board().dataset.stale = "";
  document.body.classList.add("under-way");
  const answer = await ask(address);
  if (answer?.reply.ok && answer.text.includes('id="board"')) {
    notice("");
    put(answer.text, path);
  } else if (answer) window.location.reload();
  else {
    notice("The server does not answer. What was said is saved, and this page will follow by itself.", () => load(path, address));
    setTimeout(() => board() && "stale" in board().dataset && load(path, address), PAUSES_MS[2]);
  }
  document.body.classList.toggle("under-way", outbox.sending);
}

// Put a board in the place of the one that is shown, and the focus where the hand goes on.
function put(html, path = "") {
  const made = document.createElement("template");
  made.innerHTML = html;
  const now = made.content.querySelector("#board");
  if (!now) {
    window.location.reload();
    return;
  }
  const quiet = !path && board().contains(document.activeElement) === false;
  board().replaceWith(now);
  window.htmx.process(now);
  ready();
  const live = document.getElementById("live");
  if (live) live.textContent = now.dataset.first ? `First suspect: ${now.dataset.first}` : "";
  const title = document.getElementById("ask-title");
  if (path.endsWith("/proof")) {
    (document.querySelector(".verdicts button:enabled") || title).focus({ preventScroll: true }); // the next line stays under the thumb
    return;
  }
  if (title && !quiet) title.focus({ preventScroll: window.scrollY < 200 });
  if (path && window.matchMedia("(max-width: 700px)").matches) window.scrollTo({ top: 0 });
}

function changed(version) {
  const now = board();
  if (!now || version <= Number(now.dataset.version) || outbox.sending || "stale" in now.dataset) return;
  const begun = [...now.querySelectorAll("[data-answer] input:not([type=hidden]), [data-lamp] + input")].some((each) =>
    each.type === "checkbox" ? each.checked : each.value
  );
  if (begun) notice("Another device has answered in this case. Your answer is still here.", () => load("/changes"));
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

function localTimes() {
  const format = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" });
  for (const time of document.querySelectorAll("time[datetime]")) {
    time.textContent = format.format(new Date(time.dateTime));
  }
  for (const zone of document.querySelectorAll("[data-zone]")) zone.value = format.resolvedOptions().timeZone;
}

document.addEventListener("DOMContentLoaded", () => {
  ready();
  const passphrase = document.querySelector("[data-from-address]");
  if (passphrase && window.location.hash) {
    passphrase.value = decodeURIComponent(window.location.hash.slice(1));
    window.history.replaceState(null, "", window.location.pathname);
  }
  follow();
  send(); // what a page before this one could not
});

window.addEventListener("pageshow", (event) => {
  stay();
  if (!event.persisted) return;
  if (!board()) {
    window.location.reload();
    return;
  }
  follow();
  load();
});
