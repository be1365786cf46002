// Many tags for one step: by a scanner that types, by the camera, or in a picture. Each is tapped at
// once; without a connection it waits on this device. Without this script there is a list to send.
import { make } from "./taps_device.js";
import * as kept from "./taps_kept.js";
import { person, state, takeBack, tap } from "./taps_send.js";
import { liveCamera } from "./scan_camera.js";
import { sound } from "./scan_sound.js";

const find = (name) => document.querySelector(`[data-scan="${name}"]`);
const form = find("form");
const field = find("code");
const step = form.elements.step;
const vouch = form.elements.vouch;
const list = find("list");
const rows = [];

const BAD = new Set(["refused", "unknown"]);
const WORDS = { recorded: "Done", repeated: "Again", refused: "Not done", unknown: "Unknown", waits: "Waits", undone: "Undone" };

// --- The list -------------------------------------------------------------------------------

function counts() {
  const of = (...kinds) => rows.filter((row) => kinds.includes(row.is)).length;
  const parts = [`${of("recorded")} done`];
  const add = (number, words) => { if (number) parts.push(`${number} ${words}`); };
  add(of("repeated"), "scanned again");
  add(of("refused", "unknown"), "not done");
  add(of("waits"), of("waits") === 1 ? "waits" : "wait");
  add(of("undone"), "undone");
  find("counts").textContent = rows.length ? parts.join(", ") : "No tag yet";
}

function show(row) {
  row.element.className = `scanned-${row.is}`;
  const what = make("span", "", { class: "scanned-what" });
  const { answer } = row;
  what.append(answer?.address ? make("a", answer.code, { class: "code", href: answer.address }) : make("span", row.code, { class: "code" }));
  if (answer?.size) what.append(" ", make("strong", answer.size), ` ${answer.member}`);
  what.append(make("span", answer?.words ?? `${row.what}: kept on this device, not sent yet.`, { class: "help" }));
  row.element.replaceChildren(make("span", WORDS[row.is], { class: "scanned-word" }), what);
  if (row.is === "recorded" || row.is === "waits") row.element.append(undoButton(row));
  counts();
}

function big(row) {
  const { answer } = row;
  const place = find("big");
  place.className = `scan-big scanned-${row.is}`;
  const name = answer?.code ?? row.code;
  const words = WORDS[row.is].toLowerCase();
  const how = { recorded: answer?.stands, repeated: `${words}, it ${answer?.stands}` }[row.is] ?? words;
  place.textContent = `${name}: ${how}`;
  if (BAD.has(row.is)) place.append(make("span", answer.words, { class: "help" }));
}

function undoButton(row) {
  const button = make("button", "Undo", { type: "button", class: "button-quiet", "aria-label": `Undo ${row.answer?.code ?? row.code}` });
  button.addEventListener("click", () => { button.disabled = true; undo(row); });
  return button;
}

async function undo(row) {
  const waits = kept.waiting(person.id).find((entry) => entry.key === row.key);
  if (waits) return takeBack(waits);
  if (row.is !== "recorded") return; // it was answered meanwhile, and its row says so
  const { code, stage, event } = row.answer;
  const asked = { code, way: "batch", action: "undo", stage, undoes: event, words: `${code}: undo ${row.what}` };
  const { answer } = await tap(asked, { kept: (key) => { row.undoKey = key; } });
  if (answer) return;
  row.answer = { ...row.answer, words: "The undo is kept on this device, and sent when the connection is back." };
  show(row);
  row.element.querySelector("button").disabled = true;
}

function undone(row, answer) {
  row.undoKey = null;
  row.answer = { ...row.answer, words: answer.words, stands: answer.stands };
  settle(row, BAD.has(answer.outcome) ? "recorded" : "undone");
  sound(answer.outcome);
}

function settle(row, is) {
  row.is = is;
  show(row);
  big(row);
}

// --- One tag --------------------------------------------------------------------------------

// The code in an address, as far as this page shows it; the site reads it anew.
const shown = (code) => code.match(/\/j\/([\w.~-]+)/i)?.[1] ?? code;

async function scanned(text, way) {
  const code = text.trim();
  if (!code) return;
  const [action, stage = ""] = step.value.split(":");
  const what = step.selectedOptions[0].textContent.trim();
  const before = rows.find((row) => row.code.toLowerCase() === shown(code).toLowerCase() && row.step === step.value && row.is !== "undone" && !BAD.has(row.is));
  const row = { code: shown(code), step: step.value, what, is: "waits", key: null, undoKey: null, answer: null, element: make("li") };
  rows.push(row);
  list.prepend(row.element);
  find("board").hidden = false;
  const concernsBlocks = action === "next" || stage === "cut";
  const given = tap({
    code, way, action, stage, same_as: before?.key ?? undefined,
    vouch: concernsBlocks && vouch.checked ? "1" : undefined,
    run: form.elements.run.value || undefined, words: `${row.code}: ${what}`,
  }, { kept: (key) => { row.key = key; } });
  row.element.className = "scanned-waits";
  const { answer } = await given;
  if (answer || row.answer) return; // told by its event
  settle(row, "waits");
  sound("waits");
}

function answered(row, answer) {
  row.answer = answer;
  settle(row, answer.outcome);
  sound(answer.outcome);
}

document.addEventListener("taps:answer", ({ detail }) => {
  const row = rows.find((each) => each.key === detail.key && each.is === "waits" && !each.answer);
  if (row) answered(row, detail);
  const taken = rows.find((each) => each.undoKey === detail.key);
  if (taken) undone(taken, detail);
});

// --- The scanner that types -----------------------------------------------------------------

function take() {
  const codes = field.value.split(/\s+/).filter(Boolean);
  field.value = "";
  field.focus();
  for (const code of codes) scanned(code, "batch");
}

field.addEventListener("keydown", (event) => {
  const ends = event.key === "Enter" || (event.key === "Tab" && field.value.trim());
  if (!ends) return;
  event.preventDefault();
  take();
});
find("add").addEventListener("click", take);

// What a scanner types while nothing else takes it goes into the field.
document.addEventListener("keydown", (event) => {
  if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey || event.key === " ") return;
  if (document.activeElement.matches("input:not([type=checkbox], [type=file]), textarea")) return;
  field.focus();
});

find("new-list").addEventListener("click", () => {
  rows.length = 0;
  list.replaceChildren();
  find("big").textContent = "";
  counts();
  field.focus();
});

// --- A picture ------------------------------------------------------------------------------

const pictures = find("picture-form");

function said(words, isBad = true) {
  const place = pictures.querySelector(".picture-said") ?? pictures.appendChild(make("p", "", { class: "picture-said", role: "status" }));
  place.className = `picture-said notice${isBad ? " notice-bad" : ""}`;
  place.textContent = words;
}

async function readPicture() {
  said("Reading the picture…", false);
  let answer;
  try {
    const response = await fetch(pictures.getAttribute("action"), { method: "POST", body: new FormData(pictures), headers: { Accept: "application/json" }, redirect: "manual" });
    answer = response.type === "opaqueredirect" ? { words: "You are logged out: load this page again to log in, then take the picture again." } : response.headers.get("Content-Type")?.includes("json") ? await response.json() : { words: `The site could not read it (${response.status}). Reload the page and try again.` };
  } catch {
    answer = { words: "No connection: a picture can only be read by the site. Scan or type the codes; they are kept for later." };
  }
  pictures.reset();
  if (!answer.codes) return said(answer.words);
  said(`${answer.codes.length} ${answer.codes.length === 1 ? "tag was" : "tags were"} read. Count them: one that is missing in the list was not seen.`, false);
  for (const code of answer.codes) scanned(code, "photo");
}

pictures.addEventListener("submit", (event) => { event.preventDefault(); readPicture(); });
pictures.elements.picture.addEventListener("change", () => { if (pictures.elements.picture.files.length) readPicture(); });

// --- The page -------------------------------------------------------------------------------

function offerVouch() {
  find("vouch").hidden = !(step.value === "next" || step.value === "done:cut");
}
step.addEventListener("change", offerVouch); // the focus stays: arrow keys go on from choice to choice
form.addEventListener("submit", (event) => { event.preventDefault(); take(); });
find("live").hidden = false;
find("list-of-codes").hidden = true;
form.elements.codes.disabled = true;
pictures.querySelector("button").hidden = true;
offerVouch();
liveCamera(find("camera"), find("eye"), find("video"), (code) => scanned(code, "batch"), said);
field.focus({ preventScroll: true });
document.addEventListener("taps:changed", () => { if (state.is === "") counts(); });
