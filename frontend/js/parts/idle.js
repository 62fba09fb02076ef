// @ts-check
/** Notices when nobody touches a shared tablet any more, and tells the server while somebody does. */

const LOOK_MS = 2_000;
const TELL_MS = 60_000;

let touched = Date.now();
let told = Date.now();

for (const kind of ["pointerdown", "keydown", "input", "wheel"]) {
  addEventListener(kind, () => {
    touched = Date.now();
  }, { capture: true, passive: true });
}

/**
 * Watch from now on. Answers what ends the watching.
 *
 * @param {number} seconds how long nobody may touch the tablet
 * @param {() => void} idle called once, then
 * @param {() => void} here called now and then while somebody does
 */
export function watchIdle(seconds, idle, here) {
  touched = told = Date.now();
  function look() {
    if (Date.now() - touched > seconds * 1_000) {
      stop();
      idle();
    } else if (touched > told && Date.now() - told > Math.min(TELL_MS, seconds * 500)) {
      told = Date.now();
      here();
    }
  }
  function stop() {
    clearInterval(timer);
    document.removeEventListener("visibilitychange", look);
  }
  const timer = setInterval(look, Math.min(LOOK_MS, seconds * 250));
  // A tablet that slept ran no clock: look at once when it wakes.
  document.addEventListener("visibilitychange", look);
  return stop;
}
