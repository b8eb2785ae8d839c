/**
 * Where a student's copy of a recording begins, against the one that the lesson was made from: its attacks are laid over
 * the attacks of the lesson at every moment within some seconds, and the best fit is taken. Pure arithmetic.
 */

/** Steps of the first search and of the second, and how far is looked (seconds). */
const WIDE_STEP = 0.01;
const FINE = 0.001;
const FAR = 15;
/** The best fit must stand out by this many standard deviations of all fits to be believed (ours; measured, see the
 * tests: the same recording 10 and more, another song under 5). */
const CLEAR = 6;

/**
 * @param {Float32Array} guide samples of one channel @param {number} rate @param {number[]} attacks seconds, as in the lesson
 * @returns {{later: number, clear: boolean, stands: number}} `later`: seconds by which the copy is later than the lesson's
 */
export function aligned(guide, rate, attacks) {
  if (attacks.length < 4) return { later: 0, clear: false, stands: 0 };
  const coarse = sums(rises(guide, rate, WIDE_STEP), WIDE_STEP, attacks, -FAR, FAR);
  const mean = coarse.reduce((sum, one) => sum + one, 0) / coarse.length;
  const spread = Math.sqrt(coarse.reduce((sum, one) => sum + (one - mean) ** 2, 0) / coarse.length) || 1;
  const at = coarse.indexOf(Math.max(...coarse));
  const near = -FAR + at * WIDE_STEP;
  const fine = sums(rises(guide, rate, FINE), FINE, attacks, near - 0.02, near + 0.02);
  const stands = (coarse[at] - mean) / spread;
  return { later: near - 0.02 + fine.indexOf(Math.max(...fine)) * FINE, clear: stands >= CLEAR, stands };
}

/** How much louder each step is than the one before, as far as it is; of what changes fast. */
function rises(guide, rate, step) {
  const size = step * rate;
  const count = Math.floor(guide.length / size);
  const found = new Float32Array(count);
  let before = 0;
  for (let n = 0; n < count; n += 1) {
    const [from, to] = [Math.max(Math.round(n * size), 1), Math.round((n + 1) * size)];
    let power = 0;
    for (let at = from; at < to; at += 1) power += (guide[at] - guide[at - 1]) ** 2;
    const loud = Math.log(1e-7 + power / Math.max(to - from, 1));
    if (n > 0) found[n] = Math.max(loud - before, 0);
    before = loud;
  }
  return found;
}

/** For every shift from `low` to `high` in steps: how much rises there where attacks are, a step to each side counted. */
function sums(rise, step, attacks, low, high) {
  const smooth = rise.map((one, at) => one + 0.5 * ((rise[at - 1] ?? 0) + (rise[at + 1] ?? 0)));
  const count = Math.round((high - low) / step) + 1;
  return Array.from({ length: count }, (_, shift) => {
    let sum = 0;
    for (const attack of attacks) sum += smooth[Math.round((attack + low + shift * step) / step)] ?? 0;
    return sum;
  });
}
