/**
 * Rows of the page's data -> single sounds with a time, a loudness and the bus they belong to. Pure: no audio here.
 * A row is: bar, quarters, seconds, sound, velocity, limb, turn, and, when the sound is silenced: quarters and seconds
 * until then, and the seconds it takes to die.
 */

/**
 * One sound to start. `at` seconds from the start of the stretch; `stop`: seconds after `at` at which it dies, 0 never.
 * @typedef {{at: number, sound: string, velocity: number, bus: "hands" | "feet" | "click" | "count", stop: number,
 *            fade: number, turn: number}} Blow
 */
/** @typedef {number[]} Row */

/** Rows of a level grouped by bar index. @param {Row[]} rows @param {number} bars @returns {Row[][]} */
export function byBar(rows, bars) {
  const found = Array.from({ length: bars }, () => /** @type {Row[]} */ ([]));
  for (const row of rows) found[row[0]].push(row);
  return found;
}

/**
 * The sound of a row whose written place falls `at` seconds after the start of the stretch.
 * @param {Row} row @param {number} at @param {number} perQuarter seconds @param {string[]} sounds @returns {Blow}
 */
export function blow(row, at, perQuarter, sounds) {
  const [, , seconds, sound, velocity, limb, turn, stopQuarters = 0, stopSeconds = 0, fade = 0] = row;
  return {
    at: at + seconds, sound: sounds[sound], velocity, turn, fade,
    bus: limb < 2 ? "hands" : "feet", stop: stopQuarters * perQuarter + stopSeconds,
  };
}
