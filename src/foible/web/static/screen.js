// On a big screen the arrow keys step through what was done, and “o” lays it open: each follows a link that the page shows.
"use strict";

const FOLLOWED = { ArrowLeft: "[rel=prev]", ArrowRight: "[rel=next]", PageUp: "[rel=prev]", PageDown: "[rel=next]", o: "[data-open]" };

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || event.target.closest("input, select, textarea")) return;
  const found = FOLLOWED[event.key] && document.querySelector(FOLLOWED[event.key]);
  if (!found) return;
  event.preventDefault();
  found.click();
});
