/**
 * Musical time and seconds. Pure arithmetic: nothing here knows sound, screen or clock.
 * A place is a bar (its index) and quarter notes from its bar line. Every time is worked out from the start of the
 * stretch, never added up from the last one, so a loop cannot drift.
 */

/** @typedef {{n: number, meter: string, quarters: number, tempo: number, beats: number[]}} Bar */
/** @typedef {{bar: number, quarter: number}} Place */
/** @typedef {{from: number, to: number, percent: number, lines: number[], length: number}} Stretch */

/**
 * A stretch of bars at a percent of the song's own tempo: seconds of every bar line from its start.
 * @param {Bar[]} bars @param {number} from @param {number} to both included @param {number} percent
 * @returns {Stretch}
 */
export function stretch(bars, from, to, percent) {
  const lines = [0];
  for (let bar = from; bar <= to; bar += 1) {
    lines.push(lines[lines.length - 1] + bars[bar].quarters * quarterSeconds(bars[bar], percent));
  }
  return { from, to, percent, lines, length: lines[lines.length - 1] };
}

/** Seconds of one quarter note in a bar. @param {Bar} bar @param {number} percent */
export function quarterSeconds(bar, percent) {
  return 6000 / (bar.tempo * percent);
}

/**
 * Seconds from the start of the stretch to a place in it.
 * @param {Bar[]} bars @param {Stretch} part @param {number} bar @param {number} quarter
 */
export function secondsAt(bars, part, bar, quarter) {
  return part.lines[bar - part.from] + quarter * quarterSeconds(bars[bar], part.percent);
}

/**
 * The place that sounds so many seconds after the start of the stretch (its ends outside it).
 * @param {Bar[]} bars @param {Stretch} part @param {number} seconds
 * @returns {Place}
 */
export function placeAt(bars, part, seconds) {
  let low = 0;
  let high = part.lines.length - 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (part.lines[middle] <= seconds + 1e-9) low = middle;
    else high = middle - 1;
  }
  const bar = part.from + low;
  const quarter = (seconds - part.lines[low]) / quarterSeconds(bars[bar], part.percent);
  return { bar, quarter: Math.min(Math.max(quarter, 0), bars[bar].quarters) };
}

/** Which beat of a bar (from 0) a place is in. @param {Bar} bar @param {number} quarter */
export function beatAt(bar, quarter) {
  let beat = 0;
  while (beat + 1 < bar.beats.length && bar.beats[beat + 1] <= quarter + 1e-6) beat += 1;
  return beat;
}

/**
 * How many bars are usually counted in: one, two when slow; twice as many when a bar has few beats.
 * @param {Bar[]} bars @param {number} first @param {number} percent @param {{two_bars_under: number, fewest: number}} usual
 */
export function usualRounds(bars, first, percent, usual) {
  const bar = bars[first].n === 0 && first + 1 < bars.length ? bars[first + 1] : bars[first];
  const beatsAMinute = 60 / ((bar.beats[1] ?? bar.quarters) * quarterSeconds(bar, percent));
  return (beatsAMinute < usual.two_bars_under ? 2 : 1) * (bar.beats.length < usual.fewest ? 2 : 1);
}

/**
 * The count-in before a bar: so many bars of its beats. Into a pickup the numbers run on, so that its own first note
 * falls where it is counted.
 * @param {Bar[]} bars @param {number} first @param {number} percent @param {number} rounds bars to count, 0 for none
 * @returns {{clicks: {seconds: number, beat: number, of: number}[], length: number}}
 */
export function countIn(bars, first, percent, rounds) {
  const pickup = bars[first].n === 0 && first + 1 < bars.length;
  const full = pickup ? bars[first + 1] : bars[first];
  const quarters = full.quarters * rounds - (pickup && rounds ? bars[first].quarters % full.quarters : 0);
  const perQuarter = quarterSeconds(bars[first], percent);
  const clicks = [];
  for (let round = 0; round < rounds; round += 1) {
    full.beats.forEach((start, beat) => {
      const at = round * full.quarters + start;
      if (at < quarters - 1e-6) clicks.push({ seconds: at * perQuarter, beat: beat + 1, of: full.beats.length });
    });
  }
  return { clicks, length: quarters * perQuarter };
}
