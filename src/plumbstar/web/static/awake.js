// The phone stays awake while this page is in front: by the browser's lock, which it gives over HTTPS
// and on the computer itself only, or else by a film. Phones do not darken while a film plays; this
// one is of one colour, silent, drawn here twice a second, and lies behind the page.

const ASK_PHONE = "let the screen stay on for ten minutes or more in the phone’s own settings.";
const SIDE = 16;

let awake = "";
/** What is so now, for whoever opens Screen. */
export const awakeWords = () => awake;

/** @type {WakeLockSentinel | null} */
let lock = null;
/** @type {HTMLVideoElement | null} */
let film = null;

/** @param {() => void} changed */
export async function stayAwake(changed) {
  awake = (await locked()) ? "While this page is in front, the phone stays awake."
    : (await played(changed)) ? `To keep the phone awake an empty, silent film plays behind this page. Not every phone goes by it: if yours gets dark, ${ASK_PHONE}`
      : `This page cannot keep the phone awake: ${ASK_PHONE}`;
  changed();
}

async function locked() {
  if (!("wakeLock" in navigator)) return false;
  try {
    lock = lock && !lock.released ? lock : await navigator.wakeLock.request("screen");
    return true;
  } catch {
    return false; // refused: the battery is low, or the page not in front
  }
}

/**
 * Whether the film runs. Where a browser wants a touch first, it begins with the first one.
 * @param {() => void} changed
 */
async function played(changed) {
  try {
    film ??= made();
    await film.play();
    return !film.paused;
  } catch {
    addEventListener("pointerdown", () => stayAwake(changed), { once: true });
    return false;
  }
}

function made() {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = SIDE;
  const pen = canvas.getContext("2d");
  if (!pen) throw new Error("no canvas");
  let odd = 0;
  const draw = () => {
    if (document.visibilityState !== "visible") return;
    pen.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--paper") || "#000";
    pen.fillRect(0, 0, SIDE, SIDE);
    pen.clearRect((odd = 1 - odd), 0, 1, 1); // a picture that is not the last one, or none is sent
  };
  draw();
  const v = document.createElement("video");
  v.muted = v.playsInline = true;
  v.className = "film";
  v.tabIndex = -1;
  v.setAttribute("aria-hidden", "true");
  v.srcObject = canvas.captureStream(2);
  document.body.append(v);
  setInterval(draw, 500);
  return v;
}
