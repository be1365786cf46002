// Taps on buttons of forms with data-tap: sent at once, or kept on this device and sent later. A bar
// says what waits. Without this script the forms post as ever.
import { make } from "./taps_device.js";
import * as kept from "./taps_kept.js";
import { person, send, state, takeBack, tap, waitsAlready } from "./taps_send.js";

const EVERY_MS = 30000;
const told = document.querySelector("[data-taps-url]")?.dataset;
const main = document.querySelector("main") ?? document.body;

// --- The bar --------------------------------------------------------------------------------

const counted = (number, one) => (number === 1 ? `1 ${one}` : `${number} ${one}s`);

const REASONS = {
  offline: ["wait for the connection", "waits for the connection"],
  log_in: ["wait until you log in", "waits until you log in"],
  other: ["wait: someone else is logged in here now", "waits: someone else is logged in here now"],
  reload: ["wait: reload this page to send them", "waits: reload this page to send it"],
  broken: ["wait: the site could not take them yet", "waits: the site could not take it yet"],
};

function heading(number) {
  const [many, one] = REASONS[state.is] ?? (state.is ? ["are being sent", "is being sent"] : ["wait to be sent", "waits to be sent"]);
  return `${counted(number, "tap")} ${number === 1 ? one : many}`;
}

function button(words, act, kind = "button-quiet") {
  const element = make("button", words, { type: "button", class: kind });
  element.addEventListener("click", act);
  return element;
}

function waitingList(taps) {
  const list = make("ul", "", { class: "plain" });
  for (const each of taps) {
    const row = make("li", `${each.words || each.code} `);
    row.append(make("span", new Date(each.device_at).toLocaleTimeString("en-GB", { timeStyle: "short" }), { class: "help" }), " ");
    row.append(button("Take back", () => takeBack(each)));
    list.append(row);
  }
  return list;
}

function waitingPart(taps) {
  const part = make("details", "", { class: "taps-wait" });
  part.append(make("summary", heading(taps.length)));
  if (state.words && state.is === "broken") part.append(make("p", state.words));
  part.append(waitingList(taps));
  const row = make("div", "", { class: "actions-row" });
  row.append(button("Send now", () => send(), "button"));
  if (state.is === "log_in" && state.logIn) row.append(make("a", "Log in", { class: "button", href: state.logIn }));
  part.append(row);
  return part;
}

function lookPart(answers) {
  const part = make("div", "", { class: "taps-look" });
  part.append(make("strong", `To look at: ${counted(answers.length, "tap")} sent later did not fit`));
  const list = make("ul", "", { class: "plain" });
  for (const each of answers) {
    const row = make("li", `${each.tapped ? `${each.tapped}. ` : ""}${each.words} `);
    row.append(button("Seen", () => { kept.forget(each); draw(); }));
    list.append(row);
  }
  part.append(list);
  return part;
}

const bar = make("section", "", { class: "taps-bar", "aria-label": "Taps kept on this device", role: "status" });

function draw() {
  const wasOpen = bar.querySelector("details")?.open;
  const hadFocus = bar.contains(document.activeElement);
  const waits = kept.waiting(person.id);
  const looks = kept.toLookAt(person.id);
  const others = kept.ofOthers(person.id).length;
  const parts = [];
  // While the first try is under way, here or in another tab, there is nothing to say.
  const isFirstTry = !state.is || state.is === "sending";
  if (waits.length && (!isFirstTry || waits.some((each) => each.late))) parts.push(waitingPart(waits));
  if (looks.length) parts.push(lookPart(looks));
  if (others) parts.push(make("p", `${counted(others, "tap")} of another person ${others === 1 ? "waits" : "wait"} on this device until that person logs in here.`));
  if (kept.areInPageOnly() && state.is && state.is !== "sending") {
    parts.push(make("p", "This browser stores nothing or is full: keep this page open until they are sent.", { class: "taps-warn" }));
  }
  bar.replaceChildren(...parts);
  bar.hidden = !parts.length;
  const details = bar.querySelector("details");
  if (details && wasOpen) details.open = true;
  if (hadFocus) (bar.querySelector("button") ?? main).focus();
}

function dress() {
  if (document.querySelector("link[href*='production/scan']")) return;
  const sheet = new URL("./scan.css", import.meta.url).href;
  document.head.append(make("link", "", { rel: "stylesheet", href: sheet }));
}

// --- The forms ------------------------------------------------------------------------------

function given(form, pressed) {
  const fields = new FormData(form, pressed);
  // Not form.action: a field of that name would stand in its place.
  const code = form.dataset.tap || form.getAttribute("action").match(/\/j\/([^/]+)\/record\//)[1];
  const part = (name) => fields.get(name) || undefined;
  const words = (pressed?.dataset.words ?? pressed?.textContent ?? "tap").replace(/\s+/g, " ").trim();
  return {
    code: decodeURIComponent(code),
    way: "page",
    action: part("action"),
    stage: part("stage"),
    reason: part("reason"),
    seen: part("seen"),
    undoes: part("undoes"),
    after: part("after"),
    vouch: part("vouch"),
    words: `${decodeURIComponent(code)}: ${words}`,
  };
}

function say(form, words) {
  const place = form.querySelector(".tap-said") ?? form.appendChild(make("p", "", { class: "notice tap-said", role: "status" }));
  place.textContent = words;
}

function showAnew() {
  // Not reload(): that would post again on a page that came from a form.
  location.replace(location.pathname + location.search);
}

const waitHere = new Set(); // taps of this page's forms, sent later

async function tapped(form, step) {
  const buttons = [...form.querySelectorAll("button")];
  const waits = waitsAlready(step); // from this page or one in another tab
  if (waits) {
    waitHere.add(waits.key);
    return say(form, "This tap is kept on this device already, and is sent when the connection is back.");
  }
  for (const each of buttons) each.disabled = true;
  const { key, answer } = await tap(step, { tell: true });
  if (answer) return showAnew();
  waitHere.add(key);
  for (const each of buttons) each.disabled = false;
  const why = { log_in: "you log in", other: "you log in again", reload: "the page is loaded again" };
  say(form, `Kept on this device: ${step.words}. It is sent when ${why[state.is] ?? "the connection is back"}.`);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.matches?.("form[action$='/log-out/']")) kept.forgetPerson();
  if (!form.matches?.("form[data-tap]") || !told) return;
  const step = given(form, event.submitter); // before the form is held back: should it fail, it posts
  event.preventDefault();
  tapped(form, step).catch((error) => {
    say(form, "Something went wrong; it may not be recorded. Reload the page and look.");
    throw error;
  });
});

// --- When it is sent ------------------------------------------------------------------------

const tryAgain = () => { if (kept.waiting(person.id).length) send(); };

// What this page shows is older than what was sent from it.
document.addEventListener("taps:answer", ({ detail }) => {
  if (waitHere.delete(detail.key) && !waitHere.size) showAnew();
});

if (told) {
  dress();
  if (told.tapsUser) kept.rememberPerson({ id: person.id, name: person.name });
  main.prepend(bar);
  document.addEventListener("taps:changed", draw);
  window.addEventListener("storage", draw);
  // The network may need a moment more than the browser thinks.
  window.addEventListener("online", () => { for (const ms of [0, 1500, 5000]) setTimeout(tryAgain, ms); });
  window.addEventListener("pageshow", tryAgain);
  window.addEventListener("beforeunload", (event) => { if (kept.areInPageOnly()) event.preventDefault(); });
  setInterval(tryAgain, EVERY_MS);
  draw();
  if (told.tapsWorker && window.isSecureContext && navigator.serviceWorker) {
    // For tags and scans alone: pages under its scope wait for the worker to be up.
    for (const scope of ["/j/", "/scan/"]) navigator.serviceWorker.register(told.tapsWorker, { scope });
  }
}
