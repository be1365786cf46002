// The page for a tag that was opened without a connection: the tap is kept for later.
import { person, state, tap, waitsAlready } from "./taps_send.js";

const find = (name) => document.querySelector(`[data-offline="${name}"]`);
const form = find("form");
const said = find("said");
const inAddress = location.pathname.match(/\/j\/([^/]+)\//)?.[1];
if (inAddress) form.elements.code.value = decodeURIComponent(inAddress);

function say(words, isBad = false) {
  said.hidden = false;
  said.textContent = words;
  said.className = `notice${isBad ? " notice-bad" : ""}`;
}

if (!person.id) {
  for (const each of form.querySelectorAll("button")) each.disabled = true;
  say("Nobody has logged in on this device, so no tap can be kept. Note it on paper.", true);
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const [action, stage = ""] = event.submitter.value.split(":");
  const code = form.elements.code.value.trim();
  const concernsBlocks = action === "next" || stage === "cut";
  const vouch = concernsBlocks && form.elements.vouch.checked ? "1" : undefined;
  const words = `${code}: ${event.submitter.textContent.trim()}`;
  const step = { code, way: "page", action, stage, vouch, words };
  if (waitsAlready(step)) return say(`Kept already: ${words}.`);
  const { answer } = await tap(step);
  if (answer) return say(answer.words, answer.outcome === "refused" || answer.outcome === "unknown");
  const when = state.is === "log_in" ? "you have logged in" : "the connection is back";
  say(`Kept on this device as ${person.name}'s: ${words}. It is sent when ${when}.`);
});

find("again").addEventListener("click", () => location.reload());
