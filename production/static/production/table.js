// The lay on the table: zoom and pan, choose a block, move it by pointer or by keys, and see at
// once what the lay becomes. Without this script the page is a picture with a table.
import { body, meeting, placed, TOLERANCE } from "./table_geometry.js";
import { keptOnDevice } from "./table_kept.js";
import { inWords, short } from "./table_words.js";
import { zoomable } from "./table_zoom.js";

const given = JSON.parse(document.getElementById("lay-on-table").textContent);
const find = (name) => document.querySelector(`[data-table="${name}"]`);
const scroller = find("view");
const svg = scroller.querySelector("svg");
const MARGIN = 90; // around the cloth, in mm
const MOST_UNDONE = 100;
const SVG = "http://www.w3.org/2000/svg";
const view = zoomable(scroller, svg);
const say = inWords(given);
const kept = keptOnDevice(`lay:${given.lay}`);

// --- The blocks -----------------------------------------------------------------------------

const blocks = given.blocks.map((block, number) => {
  const shape = given.shapes[`${block.block}|${block.size}`];
  const group = svg.querySelector(`[data-at="${number}"]`);
  const [cut, over] = group.querySelectorAll("path");
  return { ...block, ...shape, number, group, cut, over, words: [...group.querySelectorAll("text")],
    drawnAt: block.at, body: null, meets: new Map(), isOutside: false, button: null };
});

function bodyAt(block, at) {
  return body(placed(block.outline, at, block.mirrored));
}

function isOut({ box }) {
  return box[0] < -TOLERANCE || box[1] < -TOLERANCE || box[3] > given.width + TOLERANCE;
}

function put(block, at) {
  block.at = at.map((value) => Math.round(value * 1000) / 1000);
  block.body = bodyAt(block, block.at);
  block.isOutside = isOut(block.body);
}

function meet(block) {
  for (const other of block.meets.keys()) blocks[other].meets.delete(block.number);
  block.meets.clear();
  for (const other of blocks) {
    if (other === block) continue;
    const how = meeting(block.body, other.body, given.gap);
    if (!how) continue;
    block.meets.set(other.number, how);
    other.meets.set(block.number, how);
  }
}

function putAll(positions) {
  blocks.forEach((block, number) => put(block, positions[number]));
  blocks.forEach((block) => block.meets.clear());
  blocks.forEach(meet);
  blocks.forEach(redraw);
  settle();
}

const length = () => Math.max(...blocks.map((block) => block.body.box[2]));
const isFaulty = (block) => block.isOutside || block.meets.size > 0;

function faultsOf(block) {
  const words = block.isOutside ? ["lies outside the cloth"] : [];
  for (const [other, how] of block.meets) words.push(say.meets(how, blocks[other]));
  return words;
}

// --- Drawing --------------------------------------------------------------------------------

const onPage = ([x, y]) => [x + MARGIN, given.width - y + MARGIN];

function redraw(block) {
  const points = block.body.ring.map((point) => onPage(point).map((v) => v.toFixed(1)).join(" "));
  const path = `M${points.join("L")}Z`;
  block.cut.setAttribute("d", path);
  block.over?.setAttribute("d", path);
  block.fault?.setAttribute("d", path);
  const [dx, dy] = labelShift(block);
  for (const text of block.words) {
    const turn = text.dataset.turn ?? (text.dataset.turn = text.getAttribute("transform") ?? "");
    text.setAttribute("transform", `translate(${dx.toFixed(1)} ${dy.toFixed(1)}) ${turn}`);
  }
}

// The words stay upright: they go where the middle of the block goes.
function labelShift(block) {
  const before = bodyAt(block, block.drawnAt).box;
  const now = block.body.box;
  return [
    (now[0] + now[2] - before[0] - before[2]) / 2,
    (before[1] + before[3] - now[1] - now[3]) / 2,
  ];
}

function mark(block) {
  const faulty = isFaulty(block);
  block.group.classList.toggle("is-faulty", faulty);
  block.group.classList.toggle("is-pinned", pins.has(block.number));
  if (faulty && !block.fault) {
    block.fault = document.createElementNS(SVG, "path");
    block.fault.setAttribute("fill", `url(#fault-${given.lay})`);
    block.fault.setAttribute("class", "fault");
    block.fault.setAttribute("d", block.cut.getAttribute("d"));
    block.cut.after(block.fault);
  } else if (!faulty && block.fault) {
    block.fault.remove();
    block.fault = null;
  }
  const states = [pins.has(block.number) ? "pinned" : "", ...faultsOf(block)].filter(Boolean);
  const [left, low] = block.body.box;
  const at = `${Math.round(left)} mm along, ${Math.round(low)} mm across`;
  const whole = [`${short(block)}, ${block.name}, ${at}`, ...states].join("; ");
  block.group.setAttribute("aria-label", whole);
  if (!block.button) return;
  const signs = [block.side, pins.has(block.number) ? "(pinned)" : "", faulty ? "!" : ""];
  block.button.textContent = signs.filter(Boolean).join(" ");
  block.button.classList.toggle("is-faulty", faulty);
  block.button.setAttribute("aria-label", [short(block), ...states].join("; "));
}

// --- What it comes to -----------------------------------------------------------------------

function faults() {
  const words = [];
  for (const block of blocks) {
    if (block.isOutside) words.push(`${short(block)} lies outside the cloth`);
    for (const [other, how] of block.meets) {
      if (other > block.number) words.push(say.pair(how, block, blocks[other]));
    }
  }
  const now = length();
  if (now > given.longest + TOLERANCE) {
    words.push(`the lay is ${say.whole(now)} long, the table holds ${say.whole(given.longest)}`);
  }
  return words;
}

let told = 0;

function settle() {
  blocks.forEach(mark);
  const now = length();
  const wide = Math.max(now, given.length) + 2 * MARGIN;
  svg.setAttribute("viewBox", `0 0 ${wide.toFixed(0)} ${given.width + 2 * MARGIN}`);
  svg.querySelector(".lay-cloth").setAttribute("width", now.toFixed(1));
  view.scale();
  if (!given.canMove) return showChosen();
  const wrong = faults();
  const changed = isMoved();
  const verdict = find("verdict");
  verdict.classList.toggle("notice-bad", wrong.length > 0);
  verdict.classList.toggle("notice-good", changed && !wrong.length);
  const words = wrong.length
    ? `Cannot be cut like this: ${wrong.length === 1 ? "1 fault" : `${wrong.length} faults`}.`
    : `Can be cut as it lies${changed ? "" : ", nothing was moved"}.`;
  // A screen reader hears where the moving ends, not each millimetre on the way.
  clearTimeout(told);
  verdict.dataset.valid = String(!wrong.length);
  told = setTimeout(() => {
    const compared = say.comparison(given.length, now);
    find("words").textContent = `${words} ${say.whole(now)} long, ${compared}.`;
  }, 150);
  const more = wrong.length > 9 ? [`and ${wrong.length - 8} more`] : [];
  const listed = more.length ? [...wrong.slice(0, 8), ...more] : wrong;
  find("faults").replaceChildren(...listed.map((each) => {
    const item = document.createElement("li");
    item.textContent = each;
    return item;
  }));
  find("undo").disabled = !past.length || isHeld();
  find("redo").disabled = !future.length || isHeld();
  find("save").disabled = wrong.length > 0 || !changed || isHeld();
  for (const name of ["slide", "reset"]) find(name).disabled = isHeld();
  find("nest").disabled = Boolean(proposal);
  showChosen();
}

const isMoved = () =>
  blocks.some((block, n) => block.at.some((value, i) => value !== given.blocks[n].at[i]));

// --- Choosing a block -----------------------------------------------------------------------

let chosen = null;
const pins = new Set();

function choose(block, { focus = false } = {}) {
  if (chosen) chosen.group.classList.remove("is-chosen");
  blocks.forEach((each) => each.group.setAttribute("tabindex", each === block ? "0" : "-1"));
  chosen = block;
  block.group.classList.add("is-chosen");
  block.group.parentNode.append(block.group);
  for (const each of blocks) {
    each.group.setAttribute("aria-pressed", String(each === block));
    each.button?.setAttribute("aria-pressed", String(each === block));
  }
  if (focus) {
    block.group.focus({ preventScroll: true });
    comeIntoView(block);
  }
  showChosen();
}

function comeIntoView(block) {
  const [left, low, right, high] = block.body.box;
  const [[x0, y0], [x1, y1]] = [onPage([left, high]), onPage([right, low])].map((point) =>
    point.map((value) => value * view.perMm));
  const { scrollLeft, scrollTop, clientWidth, clientHeight } = scroller;
  if (x0 < scrollLeft || x1 > scrollLeft + clientWidth) {
    scroller.scrollLeft = (x0 + x1 - clientWidth) / 2;
  }
  if (y0 < scrollTop || y1 > scrollTop + clientHeight) {
    scroller.scrollTop = (y0 + y1 - clientHeight) / 2;
  }
}

function showChosen() {
  const panel = find("chosen");
  panel.hidden = !chosen;
  find("none-chosen").hidden = Boolean(chosen);
  if (!chosen) return;
  const side = chosen.side === "single" ? "single" : `the ${chosen.side} one of a pair`;
  find("chosen-name").textContent = short(chosen);
  const wrong = faultsOf(chosen);
  const fault = wrong.length ? ` It ${wrong.join(" and ")}.` : "";
  find("chosen-words").textContent =
    `${chosen.name}, size ${chosen.size}, ${side}.${fault}`;
  const key = CSS.escape(`${chosen.block}|${chosen.size}`);
  const row = document.querySelector(`tr[data-row="${key}"]`);
  const jackets = row.querySelector("[data-jackets]");
  if (panel.dataset.shown !== row.dataset.row) {
    const links = [...jackets.children].map((each) => each.cloneNode(true));
    find("chosen-jackets").replaceChildren(...links);
    panel.dataset.shown = row.dataset.row;
  }
  if (!given.canMove) return;
  const [left, low] = chosen.body.box;
  for (const [name, value] of [["along", left], ["across", low]]) {
    if (document.activeElement !== find(name)) find(name).value = value.toFixed(1);
  }
  find("turn").disabled = chosen.turns.length < 2 || isHeld();
  find("pin").disabled = isHeld();
  find("turn-words").hidden = chosen.turns.length > 1;
  find("pin").setAttribute("aria-pressed", String(pins.has(chosen.number)));
  find("pin").textContent = pins.has(chosen.number) ? "Unpin" : "Pin";
}

// --- Moving, undoing, keeping ---------------------------------------------------------------

let past = [];
let future = [];
let lastMove = { number: -1, when: 0 };
let proposal = null;
let nesting = null;
// Blocks stay where they are while others are nested, and while what was found is looked at.
const isHeld = () => Boolean(proposal || nesting);
const positions = () => blocks.map((block) => block.at);

function remember() {
  past.push(positions());
  past = past.slice(-MOST_UNDONE);
  future = [];
}

function move(block, at) {
  put(block, at);
  meet(block);
  redraw(block);
  settle();
}

// Key presses that follow one another are undone together.
function moveBy(block, dx, dy) {
  if (!given.canMove || isHeld()) return;
  const now = Date.now();
  if (lastMove.number !== block.number || now - lastMove.when > 1000) remember();
  lastMove = { number: block.number, when: now };
  move(block, [block.at[0] + dx, block.at[1] + dy, block.at[2]]);
  comeIntoView(block);
  keep();
}

function turn(block) {
  if (block.turns.length < 2 || isHeld()) return;
  remember();
  const next = block.turns[(block.turns.indexOf(block.at[2]) + 1) % block.turns.length];
  const before = block.body.box;
  const after = bodyAt(block, [block.at[0], block.at[1], next]).box;
  const [dx, dy] = [0, 1].map((i) => (before[i] + before[i + 2] - after[i] - after[i + 2]) / 2);
  move(block, [block.at[0] + dx, block.at[1] + dy, next]);
  keep();
}

function step(from, to) {
  if (!from.length || isHeld()) return;
  to.push(positions());
  lastMove = { number: -1, when: 0 };
  putAll(from.pop());
  keep();
}

function pin(block) {
  if (isHeld()) return;
  if (!pins.delete(block.number)) pins.add(block.number);
  mark(block);
  showChosen();
  keep();
}

// What was not saved is still there after a reload.
function keep(isSent = false) {
  if (!isMoved() && !pins.size) return kept.drop();
  kept.write({ seen: given.seen, at: positions(), pins: [...pins], past: past.slice(-20), isSent });
}

function takeUp() {
  const fresh = given.blocks.map((block) => block.at);
  const found = given.canMove ? kept.read() : null;
  if (!found) return fresh;
  const isSaved = found.isSent && JSON.stringify(found.at) === JSON.stringify(fresh);
  if (!isSaved && (found.seen !== given.seen || found.at.length !== blocks.length)) {
    kept.drop();
    if (!found.isSent) {
      tell("The lay was changed since you moved and pinned its blocks here, so that was put aside.");
    }
    return fresh;
  }
  found.pins.forEach((number) => pins.add(number));
  if (isSaved) {
    // What was sent is the lay now; its pins go on.
    keep();
    return fresh;
  }
  past = found.past;
  return found.at;
}

function tell(words) {
  find("said").textContent = words;
  find("said").hidden = !words;
}

// --- Sliding together, nesting again --------------------------------------------------------

const SLIDES = [256, 64, 16, 4, 1, 0.25];

function fits(block, at) {
  const moved = bodyAt(block, at);
  const clear = (other) => other === block || !meeting(moved, other.body, given.gap);
  return !isOut(moved) && blocks.every(clear);
}

// Each block toward the start of the spread as far as it goes, the first ones first.
function slideTogether() {
  remember();
  for (let round = 0; round < 4; round += 1) {
    let moved = false;
    const inOrder = [...blocks].sort((one, other) => one.body.box[0] - other.body.box[0]);
    for (const block of inOrder) {
      if (pins.has(block.number) || isFaulty(block)) continue;
      for (const by of SLIDES) {
        let at = [block.at[0] - by, block.at[1], block.at[2]];
        while (fits(block, at)) {
          put(block, at);
          moved = true;
          at = [block.at[0] - by, block.at[1], block.at[2]];
        }
      }
    }
    if (!moved) break;
  }
  putAll(positions());
  keep();
}

const NO_ANSWER = "The server could not nest the blocks. Reload the page and try again.";
const NEST = "Nest the rest again";

async function nestAgain() {
  if (nesting) return nesting.abort();
  const button = find("nest");
  const form = find("form");
  fill(form);
  nesting = new AbortController();
  button.textContent = "Stop nesting";
  tell(`Nesting, up to ${given.nestSeconds} seconds …`);
  settle();
  try {
    const { signal } = nesting;
    const answer = await fetch(given.nest, { method: "POST", body: new FormData(form), signal });
    const isJson = answer.headers.get("Content-Type")?.startsWith("application/json");
    const found = isJson ? await answer.json() : { error: NO_ANSWER };
    if (found.error) tell(found.error);
    else propose(found);
  } catch (error) {
    if (error.name === "AbortError") tell("Stopped. The blocks lie as they lay before.");
    else if (!(error instanceof TypeError)) throw error;
    else tell("The server does not answer. Your moves are kept; try again later.");
  } finally {
    nesting = null;
    button.textContent = NEST;
    settle();
  }
}

function propose(told) {
  const before = { at: positions(), length: length() };
  proposal = before;
  for (const block of blocks) ghost(block);
  putAll(told.positions);
  const now = length();
  const both = `Before ${say.whole(before.length)}, proposed ${say.whole(now)}`;
  const words = `${both}: ${say.comparison(before.length, now)}.`;
  tell("");
  find("proposal-words").textContent = told.note ? `${words} ${told.note}` : words;
  find("proposal").hidden = false;
  find("take").focus();
}

// Dashed where a block lies now, while the proposal is looked at.
function ghost(block) {
  const path = block.cut.cloneNode();
  path.setAttribute("class", "ghost");
  svg.append(path);
}

function endProposal(isTaken) {
  const before = proposal;
  proposal = null;
  svg.querySelectorAll(".ghost").forEach((path) => path.remove());
  find("proposal").hidden = true;
  if (isTaken) {
    past.push(before.at);
    future = [];
    settle();
  } else {
    putAll(before.at);
  }
  keep();
  find("nest").focus();
}

function startOver() {
  remember();
  pins.clear();
  putAll(given.blocks.map((block) => block.at));
  keep();
}

function fill(form) {
  form.elements.positions.value = JSON.stringify(positions());
  form.elements.pins.value = JSON.stringify([...pins]);
}

// --- The pointer ----------------------------------------------------------------------------

const blockOf = (target) => {
  const group = target.closest?.(".lay-block");
  return group ? blocks[Number(group.dataset.at)] : null;
};
let drag = null;

svg.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  const block = blockOf(event.target);
  const isTouch = event.pointerType === "touch";
  if (block && given.canMove && !isHeld() && (!isTouch || block === chosen)) {
    if (block !== chosen) choose(block);
    drag = { block, from: [...block.at], x: event.clientX, y: event.clientY, isMoving: false };
  } else if (!isTouch) {
    drag = { pan: [scroller.scrollLeft, scroller.scrollTop], x: event.clientX, y: event.clientY };
  }
  if (drag) svg.setPointerCapture(event.pointerId);
});

svg.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const [dx, dy] = [event.clientX - drag.x, event.clientY - drag.y];
  if (drag.pan) {
    scroller.scrollLeft = drag.pan[0] - dx;
    scroller.scrollTop = drag.pan[1] - dy;
    return;
  }
  if (!drag.isMoving && Math.hypot(dx, dy) < 3) return;
  if (!drag.isMoving) remember();
  drag.isMoving = true;
  const [x, y, turned] = drag.from;
  const rounded = (value) => Math.round(value * 10) / 10;
  move(drag.block, [x + rounded(dx / view.perMm), y - rounded(dy / view.perMm), turned]);
});

function drop() {
  if (drag?.isMoving) {
    lastMove = { number: -1, when: 0 };
    keep();
  }
  drag = null;
}
svg.addEventListener("pointerup", (event) => {
  const wasPanned = drag?.pan && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > 4;
  const isTap = drag && !drag.isMoving && !wasPanned;
  drop();
  // A captured pointer's click goes to the picture, not to the block under it.
  const block = isTap ? blockOf(document.elementFromPoint(event.clientX, event.clientY)) : null;
  if (block) choose(block, { focus: true });
});
svg.addEventListener("pointercancel", drop);
svg.addEventListener("click", (event) => {
  const block = blockOf(event.target);
  if (block) choose(block, { focus: true });
});

// --- The keys -------------------------------------------------------------------------------

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function neighbor(block, key) {
  const first = ({ body: { box } }, other) =>
    box[0] - other.body.box[0] || box[1] - other.body.box[1];
  const inOrder = [...blocks].sort(first);
  const at = inOrder.indexOf(block);
  const to = { PageDown: at + 1, PageUp: at - 1, Home: 0, End: inOrder.length - 1 }[key];
  return inOrder[Math.min(inOrder.length - 1, Math.max(0, to))];
}

svg.addEventListener("keydown", (event) => {
  const block = blockOf(event.target);
  if (!block || event.ctrlKey || event.metaKey || event.altKey) return;
  if (ARROWS[event.key] && given.canMove) {
    const by = event.shiftKey ? 10 : 1;
    if (block !== chosen) choose(block);
    moveBy(block, ARROWS[event.key][0] * by, ARROWS[event.key][1] * by);
  } else if (["PageDown", "PageUp", "Home", "End"].includes(event.key)) {
    choose(neighbor(block, event.key), { focus: true });
  } else if (event.key === "Enter" || event.key === " ") {
    choose(block, { focus: true });
    find("chosen").scrollIntoView({ block: "nearest" });
  } else if (event.key.toLowerCase() === "t" && given.canMove) {
    turn(block);
  } else if (event.key.toLowerCase() === "p" && given.canMove) {
    pin(block);
  } else {
    return;
  }
  event.preventDefault();
});

document.addEventListener("keydown", (event) => {
  if (!given.canMove || !(event.ctrlKey || event.metaKey)) return;
  if (event.target.matches("input, textarea, select")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) step(past, future);
  else if (key === "y" || (key === "z" && event.shiftKey)) step(future, past);
  else return;
  event.preventDefault();
});

// --- The page -------------------------------------------------------------------------------

function addButtons() {
  for (const list of document.querySelectorAll("[data-places]")) {
    const buttons = list.dataset.places.split(" ").map((number) => {
      const block = blocks[Number(number)];
      block.button = document.createElement("button");
      block.button.type = "button";
      block.button.className = "side-button";
      block.button.addEventListener("click", () => choose(block, { focus: true }));
      return block.button;
    });
    list.replaceChildren(...buttons);
  }
}

function setUp() {
  svg.setAttribute("role", given.canMove ? "application" : "group");
  if (given.canMove) svg.setAttribute("aria-roledescription", "cutting table");
  for (const block of blocks) {
    block.group.setAttribute("role", "button");
    block.group.setAttribute("tabindex", "-1");
  }
  blocks[0].group.setAttribute("tabindex", "0");
  svg.classList.add("on-table");
  addButtons();
  document.querySelectorAll("[data-needs-script]").forEach((part) => { part.hidden = false; });
  const [zoomIn, zoomOut] = [1.3, 1 / 1.3].map((factor) => () => view.zoom(factor));
  const actions = { in: zoomIn, out: zoomOut, whole: view.showWhole };
  if (given.canMove) {
    Object.assign(actions, {
      undo: () => step(past, future), redo: () => step(future, past), slide: slideTogether,
      nest: nestAgain, take: () => endProposal(true), leave: () => endProposal(false),
      turn: () => turn(chosen), pin: () => pin(chosen),
      reset: startOver,
    });
    for (const [name, axis] of [["along", 0], ["across", 1]]) {
      find(name).addEventListener("change", ({ target }) => {
        if (target.value === "" || isHeld() || !target.reportValidity()) return;
        remember();
        const at = [...chosen.at];
        at[axis] += Number(target.value) - chosen.body.box[axis];
        move(chosen, at);
        keep();
      });
    }
    find("form").addEventListener("submit", ({ target }) => { fill(target); keep(true); });
  }
  for (const [name, act] of Object.entries(actions)) find(name).addEventListener("click", act);
  putAll(takeUp());
}

setUp();
