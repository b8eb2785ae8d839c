/**
 * One unbroken run of playing: which sounds are due when, and which place is heard when. Pure arithmetic on a clock that
 * is given: the player feeds it the audio clock, the tests an offline one. Pass k starts at `zero + k * period`, worked
 * out anew each time, so that the thousandth pass is as exact as the first.
 */
import { placeAt, secondsAt, stretch } from "./timeline.js";

/** What is wished for. `start` is the bar to begin with; `rounds` bars are counted in, before each pass if `countEach`.
 * @typedef {{from: number, to: number, start: number, percent: number, repeat: boolean, rounds: number,
 *            countEach: boolean}} Wish */
/** @typedef {ReturnType<typeof import("./plan.js").score>} Score */
/** @typedef {{kind: "count", beat: number, of: number} | {kind: "bar", bar: number, quarter: number, pass: number}
 *            | {kind: "over"}} Heard */
/** @typedef {{blow: import("./strokes.js").Blow, when: number}} Due */
/** @typedef {{wish: Wish, score: Score, part: import("./timeline.js").Stretch, since: number, zero: number,
 *             period: number, begins: number, lead: Count, again: Count | null, pass: number, bar: number, told: boolean}} Run */
/** @typedef {ReturnType<Score["countIn"]>} Count */

/** A grace note may fall this long before the first stroke (seconds). */
const EARLY = 0.12;

/**
 * A run that begins with its count-in at `at`.
 * @param {any} song @param {Score} score @param {Wish} wish @param {number} at @returns {Run}
 */
export function openRun(song, score, wish, at) {
  const run = bare(song, score, wish);
  run.lead = score.countIn({ ...run.part, from: wish.start }, wish.rounds);
  run.since = at - EARLY;
  run.begins = at + run.lead.length;
  run.zero = run.begins - run.part.lines[wish.start - wish.from];
  run.bar = wish.start;
  return run;
}

/**
 * The run that carries on at `at` with another tempo, level or repeat, from the place that `old` has reached there.
 * Inside a count-in it counts in anew.
 * @param {any} song @param {Run} old @param {Score} score @param {Wish} wish @param {number} at @returns {Run}
 */
export function changedRun(song, old, score, wish, at) {
  const place = heardAt(song, old, at);
  if (place.kind !== "bar") return openRun(song, score, { ...wish, start: old.wish.start }, at);
  const run = bare(song, score, wish);
  run.since = at;
  run.begins = at;
  run.zero = at - secondsAt(song.bars, run.part, place.bar, place.quarter);
  run.bar = place.bar;
  run.told = true;
  return run;
}

/** @param {any} song @param {Score} score @param {Wish} wish @returns {Run} */
function bare(song, score, wish) {
  const part = stretch(song.bars, wish.from, wish.to, wish.percent);
  const again = wish.repeat && wish.countEach ? score.countIn(part, wish.rounds) : null;
  const period = part.length + (again ? again.length : 0);
  const none = { length: 0, clicks: [], blows: [] };
  return { wish, score, part, period, again, lead: none, since: 0, begins: 0, zero: 0, pass: 0, bar: wish.from, told: false };
}

/**
 * Everything due before `until` that was not handed out yet. Remembers in the run how far it got.
 * @param {any} song @param {Run} run @param {number} until @returns {Due[]}
 */
export function due(song, run, until) {
  /** @type {Due[]} */
  const found = [];
  const put = (blows, zero) => {
    for (const blow of blows) if (zero + blow.at >= run.since) found.push({ blow, when: zero + blow.at });
  };
  if (!run.told) {
    put(run.lead.blows, run.zero + run.part.lines[run.bar - run.part.from]);
    run.told = true;
  }
  while (run.pass < Infinity) {
    const zero = run.zero + run.pass * run.period;
    if (zero + run.part.lines[run.bar - run.part.from] - EARLY >= until) break;
    put(run.score.bar(run.part, run.bar), zero);
    run.bar += 1;
    if (run.bar <= run.part.to) continue;
    if (run.wish.repeat && run.again) put(run.again.blows, zero + run.period);
    if (!run.wish.repeat) put(run.score.landing(run.part), zero);
    run.bar = run.part.from;
    run.pass = run.wish.repeat ? run.pass + 1 : Infinity;
  }
  return found;
}

/** What is heard at a time of the clock. @param {any} song @param {Run} run @param {number} at @returns {Heard} */
export function heardAt(song, run, at) {
  const begin = run.zero + run.part.lines[run.wish.start - run.part.from];
  if (run.lead.length > 0 && at < begin) return counted(run.lead, at - (begin - run.lead.length));
  const elapsed = Math.max(at - run.zero, 0);
  if (!run.wish.repeat && elapsed >= run.part.length) return { kind: "over" };
  const pass = run.wish.repeat ? Math.floor(elapsed / run.period) : 0;
  const within = elapsed - pass * run.period;
  if (within >= run.part.length && run.again) return counted(run.again, within - run.part.length);
  return { kind: "bar", pass, ...placeAt(song.bars, run.part, within) };
}

/** @param {Count} count @param {number} seconds since the count-in began @returns {Heard} */
function counted(count, seconds) {
  let last = { beat: 0, of: count.clicks[0]?.of ?? 0 };
  for (const click of count.clicks) if (click.seconds <= seconds + 1e-6) last = click;
  return { kind: "count", beat: last.beat, of: last.of };
}
