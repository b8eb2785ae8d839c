/**
 * The keyboard. Space plays and stops from wherever a press of the mouse or a finger has left the focus; for who walks
 * with the Tab key it presses what has the focus, as everywhere. On a bar, on the tempo and on the level it always plays.
 */
import { byId } from "./dom.js";

const WRITTEN = "input:not([type=checkbox]):not([type=range]):not([type=radio]), select, textarea";
const PRESSED = "button:not(.bar), summary, input[type=checkbox], a";

/** @param {any} page what `main.js` offers @param {(step: number) => number} rung */
export function keyboard(page, rung) {
  let pointed = false;
  let spent = false;
  document.addEventListener("pointerdown", () => { pointed = true; });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Tab" || event.key.startsWith("Arrow")) pointed = false;
    const at = /** @type {HTMLElement} */ (event.target);
    if (event.altKey || event.ctrlKey || event.metaKey || at.closest(WRITTEN)) return;
    spent = event.key === " " && (pointed || !at.closest(PRESSED));
    if (spent && !event.repeat) page.toggle();
    else if (event.key === "PageUp" && page.player.playing) page.setPercent(rung(1));
    else if (event.key === "PageDown" && page.player.playing) page.setPercent(rung(-1));
    else if (event.key === "Escape" && !byId("speak").hidden) byId("speak").hidden = true;
    else if (event.key === "Escape") page.wholeSong();
    else if (!spent) return;
    event.preventDefault();
  });
  document.addEventListener("keyup", (event) => { // some browsers press a button when the key comes up
    if (spent && event.key === " ") event.preventDefault();
  });
}
