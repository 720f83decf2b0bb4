// Guidance for the ear: beeps that quicken and rise as the target nears, or a few spoken words.
// Both are off until asked for: other people are looking too.

import { ui } from "./parts.js";
import { side, way } from "./words.js";

/** @type {AudioContext | null} */
let audio = null;
let next = 0;
let spokenAt = 0;
let spoken = "";
let voiced = false;

/**
 * How near, 0 to 1: a turn of a hundred degrees to a tenth of one, evenly in its logarithm.
 * @param {PushAmounts} p
 */
const nearness = (p) => {
  const d = Math.max(0.1, Math.hypot(p.az_deg, p.alt_deg));
  return Math.max(0, Math.min(1, 1 - Math.log10(d / 0.1) / 3));
};

/**
 * @param {ReadingRecord} reading
 * @param {PushAmounts} p
 * @param {boolean} inField
 */
export function guide(reading, p, inField) {
  if (ui.beep) beep(reading.beep ?? nearness(p));
  if (ui.speech) speak(p, inField);
  else if (voiced) quiet();
}

/** @param {number} near */
function beep(near) {
  const Audio = window.AudioContext || window.webkitAudioContext;
  if (!Audio) return;
  audio = audio || new Audio();
  if (audio.state === "suspended") audio.resume();
  const now = audio.currentTime;
  if (now < next) return;
  next = now + 1.1 - 0.95 * near;
  const tone = audio.createOscillator();
  const loud = audio.createGain();
  tone.frequency.value = 220 * 2 ** (2 * near);
  loud.gain.setValueAtTime(0, now);
  loud.gain.linearRampToValueAtTime(0.2, now + 0.01);
  loud.gain.exponentialRampToValueAtTime(0.001, now + 0.11);
  tone.connect(loud).connect(audio.destination);
  tone.start(now);
  tone.stop(now + 0.12);
}

/** @param {number} d */
const amount = (d) => (Math.abs(d) >= 10 ? Math.abs(d).toFixed(0) : Math.abs(d).toFixed(1));

/**
 * @param {PushAmounts} p
 * @param {boolean} inField
 */
function speak(p, inField) {
  if (!window.speechSynthesis) return;
  const now = performance.now();
  const text = inField ? "In the field." : `${amount(p.az_deg)} ${side(p.az_deg)}. ${amount(p.alt_deg)} ${way(p.alt_deg)}.`;
  if (speechSynthesis.speaking || now - spokenAt < 4000 || (text === spoken && now - spokenAt < 15000)) return;
  spokenAt = now;
  spoken = text;
  voiced = true;
  const words = new SpeechSynthesisUtterance(text);
  words.lang = "en";
  speechSynthesis.speak(words);
}

export function quiet() {
  if (voiced && window.speechSynthesis) speechSynthesis.cancel();
  voiced = false;
  spoken = "";
}
