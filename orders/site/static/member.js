// Keeps a half-filled order form on the device until it is sent, and holds back what cannot arrive.
// Measures are never kept. Without this file every page works all the same.
const PREFIX = "jacket-form-";
const KEPT_MS = 14 * 24 * 60 * 60 * 1000;
const RETRY_MS = 8000;

// A browser may forbid storage altogether; then nothing is kept, and nothing else changes.
function storage() {
  try {
    return window.localStorage;
  } catch (error) {
    if (error instanceof DOMException) return null;
    throw error;
  }
}

const store = storage();

function readKept(name) {
  const text = store?.getItem(name);
  if (!text) return null;
  try {
    return JSON.parse(text);
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    return { at: 0 }; // not ours; too old, so that it goes
  }
}

function forgetOld() {
  if (!store) return;
  const names = Object.keys(store).filter((name) => name.startsWith(PREFIX));
  for (const name of names) {
    if (!(Date.now() - readKept(name).at < KEPT_MS)) store.removeItem(name);
  }
}

const isKept = (field) =>
  field.name && field.name !== "csrfmiddlewaretoken" && !("measure" in field.dataset);

function keep(form, name) {
  const fields = {};
  for (const field of form.elements) {
    if (!isKept(field) || field.type === "submit" || field.type === "button") continue;
    if (field.type === "radio" && !field.checked) continue;
    fields[field.name] = field.value;
  }
  try {
    store.setItem(name, JSON.stringify({ at: Date.now(), fields }));
  } catch (error) {
    // A full device keeps nothing; the form itself still works.
    if (!(error instanceof DOMException)) throw error;
  }
}

function fill(form, fields) {
  for (const field of form.elements) {
    if (!isKept(field) || !(field.name in fields)) continue;
    const value = fields[field.name];
    if (field.type === "radio") field.checked = field.value === value;
    else if (field.tagName !== "SELECT" || [...field.options].some((one) => one.value === value))
      field.value = value;
  }
}

// Own colors are only asked for once the page shows the chosen jacket, so they are filled in second.
function restore(form, fields, whenDone) {
  fill(form, fields);
  const chosen = form.querySelector("[name=colorway]:checked");
  if (!chosen) return whenDone();
  const answers = ["htmx:afterSettle", "htmx:sendError", "htmx:responseError"];
  const second = () => {
    for (const answer of answers) document.removeEventListener(answer, second);
    fill(form, fields);
    whenDone();
    form
      .querySelector("#look select")
      ?.dispatchEvent(new Event("change", { bubbles: true }));
  };
  for (const answer of answers) document.addEventListener(answer, second);
  chosen.dispatchEvent(new Event("change", { bubbles: true }));
}

function keepTyped(form) {
  const name = PREFIX + form.dataset.keep;
  const kept = readKept(name);
  let filling = false;
  const note = document.querySelector("[data-restored]");
  if (kept?.fields && "fresh" in form.dataset) {
    filling = true;
    note.hidden = false;
    restore(form, kept.fields, () => (filling = false));
  }
  for (const kind of ["input", "change"]) {
    form.addEventListener(kind, () => filling || keep(form, name));
  }
  note.querySelector("[data-afresh]").addEventListener("click", () => {
    store.removeItem(name);
    window.location.replace(window.location.pathname);
  });
}

function holdBack(form) {
  const button = form.querySelector("[data-order]");
  const offline = form.querySelector("[data-offline]");
  const words = button.textContent;
  let timer = 0;
  const ready = () => {
    clearTimeout(timer);
    button.textContent = words;
    button.removeAttribute("aria-disabled");
  };
  form.addEventListener("submit", (event) => {
    offline.hidden = navigator.onLine;
    if (!navigator.onLine) {
      event.preventDefault();
      ready();
    } else if (button.getAttribute("aria-disabled")) {
      event.preventDefault();
    } else if (event.submitter === button) {
      button.setAttribute("aria-disabled", "true");
      button.textContent = "Sending …";
      timer = setTimeout(ready, RETRY_MS);
    }
  });
  window.addEventListener("online", () => (offline.hidden = true));
  window.addEventListener("pageshow", ready);
}

// After the page is ready, so that htmx already listens to what is filled in.
document.addEventListener("DOMContentLoaded", () => {
  forgetOld();
  const ordered = document.querySelector("[data-ordered]");
  if (ordered) store?.removeItem(PREFIX + ordered.dataset.ordered);
  const form = document.querySelector("[data-member-form]");
  if (form) holdBack(form);
  if (store && form && "keep" in form.dataset) keepTyped(form);
  for (const field of document.querySelectorAll("[data-copy]")) {
    field.addEventListener("focus", () => field.select());
  }
});
