// Heard and felt: one high tone for done, two low ones for not done. A device that can do neither
// has the big words.

const TONES = { recorded: [880], repeated: [660, 660], waits: [520], refused: [220, 220], unknown: [220, 220] };
const BUZZES = { recorded: [80], repeated: [60, 60, 60], waits: [40], refused: [250, 100, 250], unknown: [250, 100, 250] };
let audio = null;

export function sound(outcome) {
  navigator.vibrate?.(BUZZES[outcome] ?? []);
  const Audio = window.AudioContext ?? window.webkitAudioContext;
  if (!Audio) return;
  audio ??= new Audio();
  (TONES[outcome] ?? []).forEach((tone, number) => beep(tone, audio.currentTime + number * 0.18));
}

function beep(tone, at) {
  const source = audio.createOscillator();
  const loudness = audio.createGain();
  source.frequency.value = tone;
  loudness.gain.setValueAtTime(0.15, at);
  loudness.gain.exponentialRampToValueAtTime(0.001, at + 0.15);
  source.connect(loudness).connect(audio.destination);
  source.start(at);
  source.stop(at + 0.16);
}
