// A suggestion that arrives late must not replace what was typed meanwhile: parts of a page marked
// with data-keep-typed are only swapped while their fields hold what they held when asked.
const asked = new WeakMap();

const typed = (part) => [...part.querySelectorAll("input")].map((field) => field.value).join("\n");

document.addEventListener("htmx:beforeRequest", (event) => {
  const part = event.detail.target.closest("[data-keep-typed]");
  if (part) asked.set(part, typed(part));
});

document.addEventListener("htmx:beforeSwap", (event) => {
  const part = event.detail.target.closest("[data-keep-typed]");
  if (part && asked.get(part) !== typed(part)) event.detail.shouldSwap = false;
});
