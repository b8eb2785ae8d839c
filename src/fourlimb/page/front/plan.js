/**
 * What will sound: all blows of one bar of a stretch, and of the count-in before it. Pure; the player and the tests
 * both schedule from here.
 */
import { countIn, quarterSeconds, secondsAt } from "./timeline.js";
import { blow, byBar } from "./strokes.js";

/** @typedef {import("./strokes.js").Blow} Blow */

/** Which of the two clicks. */
const FIRST = 0;
const OTHER = 1;

/**
 * @param {any} song the page's data @param {any} level one of its levels
 */
export function score(song, level) {
  const rows = byBar(level.blows, song.bars.length);
  return {
    /** Blows of a bar, `at` from the start of the stretch. @param {any} part @param {number} bar @returns {Blow[]} */
    bar(part, bar) {
      const perQuarter = quarterSeconds(song.bars[bar], part.percent);
      const struck = rows[bar].map((row) =>
        blow(row, secondsAt(song.bars, part, bar, row[1]), perQuarter, song.sounds));
      const clicks = song.bars[bar].beats.map((beat, place) =>
        tick("click", secondsAt(song.bars, part, bar, beat), place === 0));
      return [...struck, ...clicks];
    },
    /** The strokes on the 1 after the stretch, where there is one: a fill is practised with its landing. */
    landing(part) {
      const after = part.to + 1;
      if (after >= song.bars.length) return [];
      const perQuarter = quarterSeconds(song.bars[after], part.percent);
      return rows[after].filter((row) => row[1] === 0).map((row) => blow(row, part.length, perQuarter, song.sounds));
    },
    /** Blows of the count-in, `at` below 0: it ends where the stretch starts. @param {any} part @param {number} rounds */
    countIn(part, rounds) {
      const { clicks, length } = countIn(song.bars, part.from, part.percent, rounds);
      return { length, clicks, blows: clicks.map((one) => tick("count", one.seconds - length, one.beat === 1)) };
    },
  };
}

/** @param {"click" | "count"} bus @param {number} at @param {boolean} first @returns {Blow} */
function tick(bus, at, first) {
  return { at, sound: "click", velocity: 0, bus, stop: 0, fade: 0, turn: first ? FIRST : OTHER };
}
