// Fast entry at the table: the first figure has the cursor, Enter goes to the next one, and a figure past its limit shows at once.
// What it comes to, with its uncertainty, the server says.
"use strict";

(() => {
  const readings = () => [...document.querySelectorAll("[data-reading]")];

  const past = (field) => {
    const value = Number(field.value.trim().replace(",", "."));
    const given = field.value.trim() !== "" && Number.isFinite(value);
    const { lower, upper } = field.dataset;
    return given && ((lower !== undefined && value < Number(lower)) || (upper !== undefined && value > Number(upper)));
  };

  const usual = new WeakMap();

  /** Once something fails, the button that saves it says what comes of it, and is the chief one. */
  const saying = (form) => {
    const save = form?.querySelector("[data-fails]");
    if (!save) return;
    if (!usual.has(save)) usual.set(save, save.textContent);
    const fails = form.querySelector("[data-reading].past, [data-bad]:checked") !== null;
    save.textContent = fails ? save.dataset.fails : usual.get(save);
    for (const button of form.querySelectorAll(".at-thumb button")) button.classList.toggle("chief", (button === save) === fails);
  };

  document.addEventListener("input", (event) => {
    if (event.target.matches("[data-reading]")) event.target.classList.toggle("past", past(event.target));
    saying(event.target.form);
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("[data-reading]")) return;
    const next = readings().find((field) => !field.value && field !== event.target);
    event.preventDefault();
    if (next) next.focus();
    else event.target.form.requestSubmit(event.target.form.querySelector(".chief"));
  });

  document.addEventListener("DOMContentLoaded", () => {
    const first = readings().find((field) => field.closest("li").classList.contains("missing"));
    if (first && window.matchMedia("(pointer: fine)").matches) first.focus({ preventScroll: true });
  });
})();
