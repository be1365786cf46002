// Taps kept on this device until the site has answered them, and answers that must be seen. Each is
// an entry of its own, so that two tabs never overwrite each other's. A browser that refuses to
// store keeps them in this page alone, and says so.

const WAITING = "muster-tap:";
const TOLD = "muster-told:";
const WHO = "muster-taps-who";
const inPage = new Map();
export const storage = { refuses: false };

const pad = (number) => String(number).padStart(12, "0");

function names(prefix) {
  const kept = [...inPage.keys()];
  try {
    for (let at = 0; at < localStorage.length; at++) kept.push(localStorage.key(at));
  } catch {
    storage.refuses = true;
  }
  return kept.filter((name) => name.startsWith(prefix)).sort();
}

function read(name) {
  if (inPage.has(name)) return inPage.get(name);
  try {
    return JSON.parse(localStorage.getItem(name));
  } catch {
    return null; // not ours, or broken by hand
  }
}

function write(name, value) {
  try {
    localStorage.setItem(name, JSON.stringify(value));
    inPage.delete(name);
  } catch {
    storage.refuses = true; // forbidden or full
    inPage.set(name, value);
  }
}

function remove(name) {
  inPage.delete(name);
  try {
    localStorage.removeItem(name);
  } catch {
    storage.refuses = true;
  }
}

const listed = (prefix) => names(prefix).map((name) => ({ name, ...read(name) })).filter((each) => each.key);

function add(prefix, user, value) {
  // The number decides the order: a clock may be set back meanwhile.
  const taken = names(prefix).map((name) => Number(name.split(":")[2])).filter(Number.isFinite);
  const name = `${prefix}${user}:${pad(Math.max(0, ...taken) + 1)}:${value.key}`;
  write(name, value);
  return { name, ...value };
}

export const waiting = (user) => listed(`${WAITING}${user}:`);
export const ofOthers = (user) => listed(WAITING).filter((each) => !each.name.startsWith(`${WAITING}${user}:`));
export const keep = (user, tap) => add(WAITING, user, tap);
export const forget = (entry) => remove(entry.name);
export const change = ({ name, ...value }) => read(name) && write(name, value);
export const toLookAt = (user) => listed(`${TOLD}${user}:`);
export const keepTold = (user, answer) => add(TOLD, user, answer);
export const areInPageOnly = () => [...inPage.keys()].some((name) => name.startsWith(WAITING));

// Who taps where the site cannot be asked: whoever was logged in last.
export const lastPerson = () => read(WHO);
export const rememberPerson = (person) => write(WHO, person);
export const forgetPerson = () => remove(WHO);
