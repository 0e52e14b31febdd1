// Signs of life: what was tapped, what is under way, what waits for the network and what was refused, each where the finger is.
"use strict";

const KEPT = "<p><b>The server does not answer.</b> This is kept on this device and sent as soon as it does.</p>";
const ANSWERED = KEPT.replace("</p>", " The question takes no second answer.</p>");
const SLOW = "<p>Still sending: the network is slow. This is kept on this device.</p>";
const SILENT = "The server does not answer. Nothing is lost: try again in a moment.";
const WITHDRAWN = "Withdrawn. If it has arrived already, it will stand under “So far”.";
const STUCK = { join: "This device has to join again. ", reload: "This page belongs to an expired session. " };

// Say something beside a form: what it waits for, or in the server's own words why it was refused.
function tell(form, html, kind = "waits") {
  let place = form.querySelector(":scope > .told");
  if (!place) {
    place = document.createElement("div");
    place.className = "told";
    place.setAttribute("role", "status");
    form.append(place);
  }
  if (place.innerHTML !== html) place.innerHTML = html;
  place.dataset.kind = html && kind;
}

function relabel(button, words) {
  if (button.type === "file") return;
  button.label ??= [...button.childNodes];
  button.replaceChildren(...(words ? [words] : button.label));
  button.classList.toggle("tapped", Boolean(words));
  const name = button.getAttribute("aria-label")?.replace(/ \(\S+ …\)$/, "");
  if (name) button.setAttribute("aria-label", words ? `${name} (${words})` : name);
  if (!words) delete button.label;
}

// The server's own words on why it refused: a part of a page, or plain text where it did not look any further.
function refusal(text) {
  if (text.trimStart().startsWith("<")) return text;
  const words = document.createElement("p");
  words.textContent = text;
  return words.outerHTML;
}

function hold(form, held) {
  for (const each of form.querySelectorAll("button, input:not([type=hidden]), select")) {
    if (held && !each.disabled) each.dataset.held = "";
    if (held || "held" in each.dataset) each.disabled = held;
    if (!held) delete each.dataset.held;
  }
}

// Show how things stand; may be called at any time, and again.
function paint() {
  const items = outbox.items;
  const here = items.filter((item) => item.case === board()?.dataset.case);
  const waits = outbox.waits;
  const proving = here.length > 0 && here.every((item) => item.path.endsWith("/proof"));
  const busy = board() && ("stale" in board().dataset || (here.some((item) => !item.picture) && !waits));
  for (const form of caseForms()) {
    const own = items.some((item) => item.key === keyOf(form));
    const question = form.querySelector("[type=hidden][name=say]")?.value;
    const answered = question && here.some((item) => item.fields.some(([name, value]) => name === "say" && value === question));
    const undo = here.length > 0 && form.matches(".others > [action$='/take-back']"); // it would undo what was before
    const next = proving && form.matches("[action$='/proof']");
    hold(form, Boolean(own || answered || undo || (busy && !next && form.closest("#board"))));
    if (own && waits) tell(form, form.dataset.answer ? ANSWERED : KEPT);
    else if (own && outbox.slow) tell(form, SLOW);
    else if (form.querySelector(":scope > .told")?.dataset.kind !== "refused") tell(form, "");
  }
  for (const [token, button] of outbox.tapped) {
    if (!items.some((item) => item.token === token)) continue;
    relabel(button, waits ? "waiting …" : "sending …");
    if (button.type === "file") tell(button.form, waits ? "<p>The photo waits on this device for the server.</p>" : "<p>Sending the photo …</p>");
  }
  document.body.classList.toggle("under-way", outbox.sending || (board() && "stale" in board().dataset));
  list(waits ? items : []);
}

// The bar that says how much waits.
function list(items) {
  const place = document.getElementById("waiting");
  const many = items.length === 1 ? "1 answer waits for the network. " : `${items.length} answers wait for the network. `;
  const words = items.length ? many + (STUCK[outbox.stuck] ?? "") + (outbox.held ? "Keep this page open. " : "") : "";
  const shown = [words, ...items.map((item) => item.token)].join();
  if (place.dataset.shown === shown) return;
  place.dataset.shown = shown;
  place.replaceChildren();
  if (!words) return;
  const head = document.createElement("b");
  head.textContent = words;
  const actions = {
    join: () => button("join again", () => window.location.assign("/join")),
    reload: () => button("reload", () => window.location.reload()),
  };
  const lines = document.createElement("ul");
  for (const item of items) {
    const line = document.createElement("li");
    const said = document.createElement("span");
    said.textContent = item.words;
    line.append(said, button("withdraw", () => withdraw(item), `withdraw: ${item.words}`));
    lines.append(line);
  }
  place.append(head, actions[outbox.stuck]?.() ?? button("try now", () => send()), lines);
}

function button(words, action, name = words) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "small";
  made.textContent = words;
  made.setAttribute("aria-label", name);
  made.addEventListener("click", action);
  return made;
}

function withdraw(item) {
  const tapped = outbox.tapped.get(item.token);
  if (tapped) relabel(tapped, "");
  outbox.drop(item.token);
  paint();
  notice(WITHDRAWN);
}

// --- other taps: they load a page, and that takes its time too ---------------------------------------------------------

function leave(thing) {
  thing.classList.add("tapped");
  document.body.classList.add("under-way");
}

function stay() {
  for (const thing of document.querySelectorAll("a.tapped, .tapped:enabled")) thing.classList.remove("tapped");
  document.body.classList.toggle("under-way", outbox.sending);
}

document.addEventListener("click", async (event) => {
  const link = event.target.closest("a[href]");
  const plain = !event.defaultPrevented && !event.button && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
  const address = link?.getAttribute("href");
  if (!plain || !address?.startsWith("/") || link.hasAttribute("download") || link.hasAttribute("target")) return;
  leave(link);
  if (!outbox.lost) return;
  event.preventDefault(); // the browser would put its own page of errors in the place of this one
  await send();
  if (outbox.lost) {
    stay();
    notice(SILENT);
  } else window.location.assign(address);
});

// A new case is opened at once or not at all. The form keeps its token as long as it says the same, so that a lost reply opens no
// second case.
async function openCase(form, tapped) {
  const fields = fieldsOf(form, tapped);
  const says = JSON.stringify(fields);
  if (form.dataset.says !== says) Object.assign(form.dataset, { says, token: randomToken() });
  if (tapped) relabel(tapped, "opening …");
  document.body.classList.add("under-way");
  hold(form, true);
  const answer = await ask(form.getAttribute("action"), bodyOf([["token", form.dataset.token], ...fields]));
  const leads = answer?.reply.headers.get("HX-Redirect");
  if (leads || answer?.reply.redirected) {
    window.location.assign(leads ?? answer.reply.url);
    return;
  }
  hold(form, false);
  if (tapped) relabel(tapped, "");
  document.body.classList.remove("under-way");
  const place = tapped?.closest("li, .row") ?? form;
  tell(place, answer ? refusal(answer.text) : `<p>${SILENT}</p>`, "refused");
}

document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return;
  const form = event.target;
  if (form.method === "post" && form.matches("[action^='/new/']")) {
    event.preventDefault();
    openCase(form, event.submitter);
    return;
  }
  document.body.classList.add("under-way");
  event.submitter?.classList.add("tapped");
});
