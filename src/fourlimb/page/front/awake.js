/** Keeps the screen lit while sound goes on: who plays drums has no hand free to wake it. Where the browser can. */

/** @type {Promise<WakeLockSentinel | undefined> | null} */
let lit = null;

/** @param {boolean} on */
export function awake(on) {
  if (on && !lit && !document.hidden) lit = navigator.wakeLock?.request("screen").catch(() => undefined) ?? null;
  else if (!on && lit) {
    lit.then((lock) => lock?.release());
    lit = null;
  }
}
