// Sends what waits on this device: in order, each until the site has answered it.
import { alone, newKey, pause } from "./taps_device.js";
import * as kept from "./taps_kept.js";

const AT_ONCE = 50;
const PATIENCE_MS = 20000;
const LATE_MS = 60000;
const HEARSAY_MS = 2000;

const told = document.querySelector("[data-taps-url]")?.dataset;
const last = told?.tapsUser ? null : kept.lastPerson();
export const person = {
  id: Number(told?.tapsUser || last?.id || 0),
  name: told?.tapsName || last?.name || "",
};
// What the last try came to: "", "sending", "offline", "log_in", "other", "reload" or "broken".
export const state = { is: "", words: "", logIn: "" };
const asked = new Map(); // taps whose answer this page waits for
const tabs = window.BroadcastChannel ? new BroadcastChannel("muster-taps") : null;

// An answer is wanted where the tap was made, whichever tab has sent it.
function heard(answer) {
  asked.get(answer.key)?.settle(answer);
  asked.delete(answer.key);
  document.dispatchEvent(new CustomEvent("taps:answer", { detail: answer }));
}

function tellAll(answer) {
  heard(answer);
  tabs?.postMessage(answer);
}

tabs?.addEventListener("message", ({ data }) => heard(data));

function changed(is = state.is, words = "", logIn = "") {
  Object.assign(state, { is, words, logIn });
  document.dispatchEvent(new CustomEvent("taps:changed"));
}

// The token of the cookie is the newest; the one in the page may be of an earlier log-in.
function token() {
  const cookie = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/);
  return cookie?.[1] ?? document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
}

async function post(taps, tell) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
  try {
    return await fetch(told.tapsUrl, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
      body: JSON.stringify({ user: person.id, sent_at: new Date().toISOString(), taps, tell }),
      redirect: "error",
      signal: patience.signal,
    });
  } finally {
    clearTimeout(timer);
  }
}

const isLate = (tap) => tap.late || Date.now() - Date.parse(tap.device_at) > LATE_MS;

function asSent({ name, words, late, ...tap }) {
  return isLate({ ...tap, late }) ? { ...tap, way: "queue" } : tap;
}

async function trouble(response) {
  let answer = {};
  try {
    answer = await response.json();
  } catch {
    // A page in words for people; its status says enough.
  }
  const is = { 401: "log_in", 409: "other", 403: "reload" }[response.status] ?? "broken";
  changed(is, answer.words ?? "", answer.log_in ?? "");
}

function take(entry, answer) {
  kept.forget(entry);
  const isRefused = answer.outcome === "refused" || answer.outcome === "unknown";
  if (isRefused && (isLate(entry) || !asked.has(entry.key))) {
    kept.keepTold(person.id, { key: entry.key, words: answer.words, tapped: entry.words, at: entry.device_at });
  }
  tellAll(answer);
}

async function takeAll(taps, response) {
  let answers = [];
  try {
    answers = (await response.json()).taps;
  } catch {
    return false; // cut off on the way: the taps wait, and their keys are asked for again
  }
  const found = new Map(answers.map((answer) => [answer.key, answer]));
  for (const tap of taps) if (found.has(tap.key)) take(tap, found.get(tap.key));
  return taps.every((tap) => found.has(tap.key));
}

async function sendAll(tell) {
  const next = () => kept.waiting(person.id).slice(0, AT_ONCE);
  for (let taps = next(); taps.length; taps = next()) {
    changed("sending");
    let response;
    try {
      // Asked even where the browser thinks it is offline: the site may run on this machine.
      response = await post(taps.map(asSent), tell);
    } catch {
      for (const tap of taps) if (!tap.late) kept.change({ ...tap, late: true });
      return changed("offline");
    }
    if (!response.ok) return trouble(response);
    if (!(await takeAll(taps, response))) return changed("broken", "An answer was missing.");
  }
  changed("");
}

let sending = null;
let again = null;

// One after the other in this page; a tap that comes meanwhile is sent right after.
export async function send({ tell = false } = {}) {
  if (!told?.tapsUrl || !person.id) return;
  if (sending) {
    again ??= sending.then(() => { again = null; return send({ tell }); });
    return again;
  }
  sending = alone(() => sendAll(tell)).finally(() => { sending = null; });
  return sending;
}

// Keeps a tap, tries to send all that wait, and gives its answer, or null while it waits.
export async function tap(given, { tell = false, kept: noteKey = () => {} } = {}) {
  const entry = kept.keep(person.id, { key: newKey(), device_at: new Date().toISOString(), ...given });
  let answer = null;
  const settled = new Promise((done) => {
    asked.set(entry.key, { settle: (found) => { answer = found; done(); } });
  });
  noteKey(entry.key);
  changed();
  await send({ tell });
  const isSentElsewhere = () => !kept.waiting(person.id).some((each) => each.key === entry.key);
  if (!answer && isSentElsewhere()) await Promise.race([settled, pause(HEARSAY_MS)]);
  asked.delete(entry.key);
  return { key: entry.key, answer };
}

export function takeBack(entry) {
  kept.forget(entry);
  tellAll({ key: entry.key, outcome: "undone", code: entry.code, words: "Taken back before it was sent." });
  changed();
}

const sameStep = (one, other) =>
  ["code", "action", "stage", "reason", "undoes"].every((part) => String(one[part] ?? "") === String(other[part] ?? ""));

// The same step of the same jacket that waits already.
export const waitsAlready = (given) => kept.waiting(person.id).find((entry) => sameStep(entry, given));
