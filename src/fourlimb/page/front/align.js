/**
 * Where a student's copy of a recording begins, against the one that the lesson was made from: low, middle and high
 * strokes of the lesson are laid over what rises in low, middle and high sound, at every moment within some seconds, and
 * the best fit is taken. Pure arithmetic.
 */

/** Steps of the first search and of the second, and how far is looked (seconds). */
const WIDE_STEP = 0.01;
const FINE_STEP = 0.001;
const FAR = 15;
const NEAR = 0.02;
/** The best fit must stand out from all by so many standard deviations, and from the next best by so many (ours). Of six
 * recordings and six rendered songs of half a minute, as MP3: 8.7 to 14 and 3.5 to 8 in their own lesson, at most 8.1 and
 * 2.7 in another's (132 pairs); a whole song stands out more. */
const CLEAR = { all: 7, next: 3 };
/** Fits this near to the best are the best itself (seconds). */
const SAME = 0.05;
/** Filters by strokes' height: passes from and to (Hz). */
const BANDS = { low: [0, 120], middle: [200, 3000], high: [6000, 0] };

/** Seconds of strokes by their height. @typedef {{low: number[], middle: number[], high: number[]}} Strokes */

/** All strokes in order. @param {Strokes} strokes */
export function inOrder({ low, middle, high }) {
  return [...low, ...middle, ...high].sort((one, other) => one - other);
}

/**
 * @param {Float32Array} guide samples of one channel @param {number} rate @param {Strokes} strokes as in the lesson
 * @returns {{later: number, clear: boolean}} `later`: seconds by which the copy is later than the lesson's recording
 */
export function aligned(guide, rate, strokes) {
  const every = inOrder(strokes);
  if (every.length < 4) return { later: 0, clear: false };
  const fits = new Float64Array(Math.round((2 * FAR) / WIDE_STEP) + 1);
  for (const [height, times] of Object.entries(strokes)) {
    if (!times.length) continue;
    const rise = evened(rises(filtered(guide, rate, BANDS[height]), rate, WIDE_STEP));
    sums(rise, WIDE_STEP, times, -FAR, FAR).forEach((sum, at) => { fits[at] += sum / Math.sqrt(times.length); });
  }
  const found = evened(fits);
  const at = highest(found);
  const next = Math.max(...found.filter((_, other) => Math.abs(other - at) * WIDE_STEP > SAME));
  const near = -FAR + at * WIDE_STEP - NEAR;
  const fine = sums(rises(edges(guide), rate, FINE_STEP), FINE_STEP, every, near, near + 2 * NEAR);
  return {
    later: near + highest(fine) * FINE_STEP,
    clear: found[at] >= CLEAR.all && found[at] - next >= CLEAR.next,
  };
}

/** @param {ArrayLike<number>} values */
function highest(values) {
  let best = 0;
  for (let at = 1; at < values.length; at += 1) if (values[at] > values[best]) best = at;
  return best;
}

/** The same with mean 0 and standard deviation 1. @template {Float32Array | Float64Array} T @param {T} values @returns {T} */
function evened(values) {
  let [sum, square] = [0, 0];
  for (const one of values) { sum += one; square += one * one; }
  const middle = sum / values.length;
  const spread = Math.sqrt(Math.max(square / values.length - middle ** 2, 1e-18));
  return /** @type {T} */ (values.map((one) => (one - middle) / spread));
}

/** What changes from sample to sample. @param {Float32Array} guide */
function edges(guide) {
  return guide.map((one, at) => one - (guide[at - 1] ?? 0));
}

/** Passed through second-order filters (Butterworth). @param {Float32Array} guide @param {number} rate @param {number[]} band */
function filtered(guide, rate, [from, to]) {
  const high = from ? passed(guide, rate, from, true) : guide;
  return to ? passed(high, rate, to, false) : high;
}

/** One filter, by the usual bilinear transform. @param {boolean} upwards keeps what is higher */
function passed(guide, rate, hertz, upwards) {
  const turn = Math.tan((Math.PI * hertz) / rate);
  const all = 1 + Math.SQRT2 * turn + turn * turn;
  const gain = (upwards ? 1 : turn * turn) / all;
  const [once, twice] = [(2 * (turn * turn - 1)) / all, (1 - Math.SQRT2 * turn + turn * turn) / all];
  const made = new Float32Array(guide.length);
  let [in1, in2, out1, out2] = [0, 0, 0, 0];
  for (let at = 0; at < guide.length; at += 1) {
    const now = guide[at];
    const out = gain * (now + (upwards ? -2 : 2) * in1 + in2) - once * out1 - twice * out2;
    [in2, in1, out2, out1] = [in1, now, out1, out];
    made[at] = out;
  }
  return made;
}

/** How much louder each step is than the one before, as far as it is, and half of its neighbours'. */
function rises(sound, rate, step) {
  const size = step * rate;
  const rise = new Float32Array(Math.floor(sound.length / size));
  let before = 0;
  for (let n = 0; n < rise.length; n += 1) {
    const [from, to] = [Math.round(n * size), Math.round((n + 1) * size)];
    let power = 0;
    for (let at = from; at < to; at += 1) power += sound[at] ** 2;
    const loud = Math.log(1e-7 + power / Math.max(to - from, 1));
    if (n > 0) rise[n] = Math.max(loud - before, 0);
    before = loud;
  }
  return rise.map((one, at) => one + 0.5 * ((rise[at - 1] ?? 0) + (rise[at + 1] ?? 0)));
}

/** For every shift from `low` to `high` in steps: how much rises there where strokes are. */
function sums(rise, step, times, low, high) {
  const count = Math.round((high - low) / step) + 1;
  return Array.from({ length: count }, (_, shift) => {
    let sum = 0;
    for (const time of times) sum += rise[Math.round((time + low + shift * step) / step)] ?? 0;
    return sum;
  });
}
