// Drills: keys 1 to 4 press the answers, Enter or 1 goes on; what is left of the minute is counted down in view.
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (event.target.closest("input, select, textarea")) return;
  const found = document.querySelector(`[data-press="${CSS.escape(event.key)}"]`);
  if (!found) return;
  event.preventDefault();
  found.click();
});

document.addEventListener("DOMContentLoaded", () => {
  const shown = document.querySelector("[data-left]");
  if (!shown) return;
  const until = Date.now() + Number(shown.dataset.left) * 1000;
  const rest = shown.textContent.replace(/^\s*\d+/, "");
  const tick = () => {
    const left = Math.max(0, Math.round((until - Date.now()) / 1000));
    shown.textContent = left > 0 ? `${left}${rest}` : `the minute is over: this is the last one${rest.replace(/^.*left/, "")}`;
    if (left > 0) setTimeout(tick, 1000);
  };
  tick();
});
