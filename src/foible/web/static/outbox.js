// What is said in a case is kept on this device first and sent then: in order, and once, as the server knows each by its token.
// Without a network it waits; what of it the page shows is in waiting.js.
"use strict";

const OUTBOX = "foible outbox";
const REPLY_MS = 15_000;
const SLOW_MS = 3_000;
const PAUSES_MS = [1_000, 2_000, 4_000, 8_000, 15_000];
const NAMING = ["say", "line", "number", "ending"];

const outbox = {
  held: null, // what waits, where the device's own store is full or shut
  sending: false,
  slow: false,
  lost: false, // the last attempt had no answer
  stuck: "", // what has to be done before it can be sent: "join", "reload"
  tries: 0,
  timer: 0,
  tapped: new Map(), // the button by token: where the finger was

  get items() {
    try {
      return this.held ?? JSON.parse(localStorage.getItem(OUTBOX) || "[]");
    } catch {
      return []; // the store is shut, or holds what is not ours
    }
  },

  set items(items) {
    try {
      localStorage.setItem(OUTBOX, JSON.stringify(items));
      this.held = null;
    } catch {
      this.held = items;
    }
  },

  get waits() {
    return this.lost || Boolean(this.stuck);
  },

  drop(token) {
    this.items = this.items.filter((item) => item.token !== token);
    this.tapped.delete(token);
  },
};

function randomToken() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map((each) => each.toString(16).padStart(2, "0")).join("");
}

// Forms that say something in a case, or what was found at a control table.
function caseForms() {
  return [...document.querySelectorAll("form[method=post][action^='/cases/'], form[data-kept]")];
}

// What a form is about: its address and what it names. Two forms with one key ask the same thing.
function keyOf(form) {
  const named = NAMING.map((name) => form.querySelector(`[type=hidden][name=${name}]`)?.value ?? "");
  return [form.getAttribute("action"), ...named].join("|");
}

function fieldsOf(form, button) {
  const fields = [...new FormData(form)].filter(
    ([name, value]) => name !== "csrf" && name !== "token" && typeof value === "string"
  );
  if (button?.name) fields.push([button.name, button.value]);
  return fields;
}

function wordsOf(form, button) {
  const lit = [...form.querySelectorAll("[data-lamp]")].filter((lamp) => field(lamp).value);
  const said = lit.map((lamp) => lamp.getAttribute("aria-label").replace(":", "")).join(", ");
  const words = said || form.querySelector("[data-keyed]")?.value || button?.getAttribute("aria-label") || button?.textContent || "";
  return [form.dataset.answer || form.dataset.words || form.querySelector("[name=line]")?.value, words.trim()].filter(Boolean).join(": ");
}

// Keep what a form says, show at once that it was heard, and send it.
function say(form, button) {
  enqueue(form, { key: keyOf(form), fields: fieldsOf(form, button), words: wordsOf(form, button) }, button);
}

function enqueue(form, what, button) {
  const path = form.getAttribute("action");
  const item = { token: randomToken(), path, case: path.split("/")[2], ...what };
  if (button) outbox.tapped.set(item.token, button);
  outbox.items = [...outbox.items, item];
  tell(form, "");
  paint();
  send();
}

// Ask the server for a page, or post to it. Resolves to nothing where no answer comes, or one that only a server in trouble gives.
async function ask(path, body) {
  const control = new AbortController();
  const wait = setTimeout(() => control.abort(), REPLY_MS);
  try {
    const headers = { "HX-Request": "true" };
    const reply = await fetch(path, { method: body ? "POST" : "GET", body, headers, signal: control.signal });
    return reply.status >= 500 ? null : { reply, text: await reply.text() };
  } catch {
    return null;
  } finally {
    clearTimeout(wait);
  }
}

function bodyOf(fields, picture) {
  const body = picture ? new FormData() : new URLSearchParams();
  body.append("csrf", document.querySelector("[name=csrf]")?.value ?? "");
  for (const [name, value] of fields) body.append(name, value);
  if (picture) body.append("photo", typeof picture === "string" ? blobOf(picture) : picture, "photo");
  return body;
}

// Send what waits, one after the other. Where no answer comes, all of it waits for the next attempt.
async function send() {
  if (outbox.sending || !outbox.items.length || !document.querySelector("[name=csrf]")) return;
  clearTimeout(outbox.timer);
  Object.assign(outbox, { sending: true, stuck: "" });
  let shown = null;
  for (let item = outbox.items[0]; item; item = outbox.items[0]) {
    paint();
    const answer = await sent(item);
    if (!answer) {
      stopped({ lost: true });
      outbox.timer = setTimeout(send, PAUSES_MS[Math.min(outbox.tries++, PAUSES_MS.length - 1)]);
      return;
    }
    Object.assign(outbox, { lost: false, tries: 0 });
    if (answer.reply.redirected || [401, 403].includes(answer.reply.status)) {
      stopped({ stuck: answer.reply.redirected ? "join" : "reload" });
      return;
    }
    const done = taken(item, answer);
    const of_it = item.path.startsWith("/cases/") ? `/cases/${item.case}` : item.path;
    if (done && window.location.pathname.startsWith(of_it)) shown = done;
  }
  stopped({});
  if (shown) await follows(shown);
}

function stopped(state) {
  Object.assign(outbox, { sending: false, ...state });
  paint();
}

async function sent(item) {
  const slow = setTimeout(() => {
    outbox.slow = true;
    paint();
  }, SLOW_MS);
  const answer = await ask(item.path, bodyOf([["token", item.token], ...item.fields], item.picture));
  clearTimeout(slow);
  outbox.slow = false;
  return answer;
}

// Take an answered item out of the outbox. Returns what follows on the page; nothing where the server refused it.
function taken(item, { reply, text }) {
  const button = outbox.tapped.get(item.token);
  outbox.drop(item.token);
  if (!reply.ok) {
    if (button) relabel(button, "");
    if (button?.isConnected && button.form) {
      tell(button.form, refusal(text), "refused");
      requestAnimationFrame(() => document.activeElement === document.body && button.focus({ preventScroll: true }));
    } else notice(`This was refused: ${item.words}.`, null, refusal(text));
    return null;
  }
  if (button) relabel(button, "saved …");
  if (button?.type === "file") tell(button.form, "");
  const leads = reply.headers.get("HX-Redirect");
  if ((leads || (!text && !item.picture)) && item.case === board()?.dataset.case) board().dataset.stale = "";
  const question = item.fields.find(([name]) => name === "say")?.[1];
  if (question) sessionStorage.removeItem(unsaved(item.case, question));
  return { leads, html: text, path: item.picture ? "" : item.path };
}

// Go where an answer leads, or show how the case stands now.
async function follows({ leads, html, path }) {
  if (leads) {
    window.location.assign(leads);
    return;
  }
  if (!board()) return;
  if (path) window.history.replaceState(null, "", window.location.pathname); // a trial that was picked has been made
  if (html) put(html, path);
  else await load(path);
}

document.addEventListener(
  "submit",
  (event) => {
    if (!caseForms().includes(event.target)) return;
    event.preventDefault();
    event.stopImmediatePropagation(); // htmx would send it at once, and keep nothing
    say(event.target, event.submitter);
  },
  true
);
window.addEventListener("online", () => send());
window.addEventListener("storage", () => paint());
