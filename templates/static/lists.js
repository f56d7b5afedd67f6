// A list that narrows itself as one types: when the line is gone or the answer is an error, say so instead of standing still.
"use strict";
const lineGone = (gone) => {
  const told = document.getElementById("line-gone");
  if (told) told.hidden = !gone;
};
document.addEventListener("htmx:sendError", () => lineGone(true));
document.addEventListener("htmx:responseError", () => lineGone(true));
document.addEventListener("htmx:afterSwap", () => lineGone(false));
