// The watch of a time study. It counts by the clock of the device and is kept on it, so that a
// locked screen, a closed page or a lost connection loses nothing; it is let go of once the page
// comes back with its reading among those that are stored.
import { keptOnDevice } from "./table_kept.js";

const form = document.querySelector("[data-reading]");
const panel = document.querySelector("[data-watch]");
const kept = keptOnDevice(`time-study-${form.dataset.study}`);
const face = panel.querySelector("[data-watch-face]");
const words = panel.querySelector("[data-watch-words]");
const offline = form.querySelector("[data-offline]");
const buttons = new Map(
  [...panel.querySelectorAll("[data-watch-do]")].map((button) => [button.dataset.watchDo, button]),
);
const typed = ["rating", "count", "metres"]
  .map((name) => form.elements.namedItem(name))
  .filter(Boolean);

// phase: running, resting or stopped; since: when it began; worked and rested: milliseconds before.
let watch = kept.read();

const shown = {
  idle: ["start"],
  running: ["rest", "stop"],
  resting: ["resume", "stop"],
  stopped: ["clear"],
};
const told = {
  idle: "Tap Start when the work begins.",
  running: "The watch runs. It goes on when the screen is off.",
  resting: "Break: this time is taken off.",
  stopped: "Done. Rate the pace, say how much was done, and store the reading.",
};

const spent = (phase) =>
  (phase === "running" ? watch.worked : watch.rested) +
  (watch.phase === phase ? Date.now() - watch.since : 0);
const phase = () => watch?.phase ?? "idle";
const seconds = (ms) => (ms / 1000).toFixed(1);

function clock(ms) {
  const whole = Math.floor(ms / 1000);
  const parts = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const [hours, minutes, rest] = parts;
  const two = (number) => String(number).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
}

function draw() {
  face.textContent = clock(watch ? spent("running") : 0);
}

function show() {
  const now = phase();
  for (const [name, button] of buttons) button.hidden = !shown[now].includes(name);
  if (words.textContent !== told[now]) words.textContent = told[now];
  draw();
}

function enter(next) {
  const [worked, rested] = [spent("running"), spent("resting")];
  watch = { ...watch, phase: next, since: Date.now(), worked, rested };
}

const acts = {
  start() {
    watch = { phase: "running", since: Date.now(), worked: 0, rested: 0, fields: {} };
    watch.key = form.elements.namedItem("form_key").value;
  },
  rest: () => enter("resting"),
  resume: () => enter("running"),
  stop() {
    enter("stopped");
    fill();
  },
  clear() {
    watch = null;
    for (const name of ["seconds", "break_seconds"]) form.elements.namedItem(name).value = "";
  },
};

function fill() {
  form.elements.namedItem("seconds").value = seconds(watch.worked);
  form.elements.namedItem("break_seconds").value = seconds(watch.rested);
}

function keep() {
  if (watch) kept.write(watch);
  else kept.drop();
}

function takeUp() {
  if (watch && form.dataset.stored.split(" ").includes(watch.key)) acts.clear();
  if (!watch) return;
  form.elements.namedItem("form_key").value = watch.key;
  if (watch.phase === "stopped" && !form.elements.namedItem("seconds").value) fill();
  const proposed = new URLSearchParams(window.location.search).has("jacket");
  for (const field of typed) {
    const filled = proposed && field.name !== "rating";
    if (!filled && watch.fields[field.name]) field.value = watch.fields[field.name];
  }
}

for (const [name, button] of buttons) {
  button.addEventListener("click", () => {
    acts[name]();
    keep();
    show();
    buttons.get(shown[phase()].at(-1)).focus();
  });
}

for (const field of typed) {
  field.addEventListener("input", () => {
    if (!watch) return;
    watch.fields[field.name] = field.value;
    keep();
  });
}

form.addEventListener("submit", (event) => {
  if (watch && watch.phase !== "stopped") {
    acts.stop();
    keep();
    show();
  }
  offline.hidden = navigator.onLine;
  if (!navigator.onLine) event.preventDefault();
});
window.addEventListener("online", () => {
  offline.hidden = true;
});

const slider = document.querySelector("[data-slider]");
const range = slider.querySelector("input");
const rating = form.elements.namedItem("rating");
range.addEventListener("input", () => {
  rating.value = range.value;
  rating.dispatchEvent(new Event("input"));
});
rating.addEventListener("input", () => {
  range.value = rating.value;
});

takeUp();
keep();
range.value = rating.value;
slider.hidden = false;
panel.hidden = false;
show();
window.setInterval(draw, 250);
