// What the table says: lengths in the unit of the workroom, money, and how blocks lie.

export const short = ({ block, size, side }) =>
  [block, size, side === "single" ? "" : side].filter(Boolean).join(" ");

export function inWords({ unit, gap, spreads, moneyPerMm, currency }) {
  const isImperial = unit === "imperial";
  const inches = (mm) => `${(mm / 25.4).toFixed(1)} in`;
  const small = (mm) => (isImperial ? inches(mm) : `${mm.toFixed(0)} mm`);
  const whole = (mm) => (isImperial ? inches(mm) : `${(mm / 1000).toFixed(3)} m`);

  function comparison(before, now) {
    const saved = before - now;
    if (Math.abs(saved) < 0.5) return "as long as before";
    const cloth = Math.abs(saved) * spreads;
    const more = [];
    if (spreads > 1) more.push(`${small(cloth)} of cloth over all plies`);
    if (moneyPerMm !== null) more.push(`${(cloth * moneyPerMm).toFixed(2)} ${currency}`);
    const all = more.length ? ` (${more.join(", ")})` : "";
    return `${small(Math.abs(saved))} ${saved > 0 ? "saved" : "more than before"}${all}`;
  }

  const meets = (how, other) =>
    how === "overlap" ? `overlaps ${short(other)}` : `is nearer than ${gap} mm to ${short(other)}`;

  function pair(how, one, other) {
    const both = `${short(one)} and ${short(other)}`;
    return how === "overlap" ? `${both} overlap` : `${both} are nearer than ${gap} mm`;
  }

  return { whole, comparison, meets, pair };
}
