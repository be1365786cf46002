// What a browser may lack on plain http in the workroom's own network.

export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

const LEASE = "muster-lease";
const LEASE_MS = 25000; // longer than one answer is waited for
export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function lease(mine) {
  try {
    const held = JSON.parse(localStorage.getItem(LEASE) ?? "null");
    const now = Date.now();
    // A lease from the future is one of a clock that was set back.
    if (held && held.mine !== mine && held.until > now && held.until <= now + LEASE_MS) return false;
    localStorage.setItem(LEASE, JSON.stringify({ mine, until: now + LEASE_MS }));
    return JSON.parse(localStorage.getItem(LEASE)).mine === mine;
  } catch {
    return true; // no storage, so no other tab sees these taps either
  }
}

function letGo(mine) {
  try {
    if (JSON.parse(localStorage.getItem(LEASE) ?? "null")?.mine === mine) localStorage.removeItem(LEASE);
  } catch {
    // Nothing was held.
  }
}

// Runs `work` while no other tab of this browser does. Two tabs that do all the same send the same
// keys, which the site counts once.
export async function alone(work) {
  if (navigator.locks) return navigator.locks.request(LEASE, work);
  const mine = newKey();
  while (!lease(mine)) await pause(400);
  const longer = setInterval(() => lease(mine), LEASE_MS / 3);
  try {
    return await work();
  } finally {
    clearInterval(longer);
    letGo(mine);
  }
}

export function make(name, words = "", attributes = {}) {
  const element = document.createElement(name);
  element.textContent = words;
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}
