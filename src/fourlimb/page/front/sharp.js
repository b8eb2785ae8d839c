/**
 * A recording at another tempo with its attacks whole. Round every attack the recording is heard as it is, unstretched;
 * only what lies between is drawn out, by overlapping pieces that fit one another (overlap-add by likeness of waves:
 * Verhelst and Roelands 1993). Pure arithmetic on numbers: knows no clock, no sound device, no file.
 */

/** How far a piece reaches to each side of its middle, and how far it may move to fit (seconds). */
const HALF = 0.0232;
const REACH = 0.012;
/** An attack's zone begins this long before it: half a piece, and a little more (seconds). */
const BEFORE = HALF + 0.004;
/** Zones take at most these shares of the gap to the neighbouring attack, in the recording and as it is heard. */
const SHARE = { before: 0.35, after: 0.5 };
/** Attacks closer than this are one: a flam keeps its width (seconds). */
const MERGE = 0.02;
/** What is searched coarsely first: every so many samples. */
const COARSE = 4;

/** Seconds of the recording: its bar lines (one more than bars) and its attacks, increasing.
 * @typedef {{lines: number[], attacks: number[]}} Landmarks */
/** `from`, `to`: seconds of the stretch; the recording is heard there `shift` seconds further on, at slope one.
 * @typedef {{from: number, to: number, shift: number, attack: boolean}} Zone */

/**
 * What of a recording is heard when a stretch of bars is played at its tempo.
 * @param {Landmarks} record @param {import("./timeline.js").Stretch} part @returns {Zone[]}
 */
export function zones(record, part) {
  const points = anchors(record, part);
  return points.map((point, at) => {
    if (!point.attack) return { from: point.out, to: point.out, shift: point.heard - point.out, attack: false };
    const before = Math.min(BEFORE, gap(points, at - 1) * SHARE.before);
    const after = Math.min(HALF, gap(points, at) * SHARE.after);
    return { from: point.out - before, to: point.out + after, shift: point.heard - point.out, attack: true };
  });
}

/** The narrower of the gaps between a point and the next, heard and in the recording. */
function gap(points, at) {
  if (at < 0 || at + 1 >= points.length) return Infinity;
  return Math.min(points[at + 1].out - points[at].out, points[at + 1].heard - points[at].heard);
}

/** Attacks, and bar lines where none is near: when they are heard, and when they are in the recording. */
function anchors(record, part) {
  const { lines } = record;
  /** @type {{out: number, heard: number, attack: boolean}[]} */
  const found = [];
  const [first, end] = [lines[part.from] - BEFORE, lines[part.to + 1] + 0.5];
  let bar = part.from;
  for (const heard of record.attacks) {
    if (heard < first || heard > end || heard - (found.at(-1)?.heard ?? -1) <= MERGE) continue;
    while (bar < part.to && lines[bar + 1] <= heard) bar += 1;
    const [low, high] = [lines[bar], lines[bar + 1]];
    const share = (heard - low) / (high - low);
    const [start, stop] = [part.lines[bar - part.from], part.lines[bar - part.from + 1]];
    found.push({ out: start + share * (stop - start), heard, attack: true });
  }
  for (let line = part.from; line <= part.to + 1; line += 1) {
    const heard = lines[line];
    const out = part.lines[line - part.from];
    if (!found.some((one) => Math.abs(one.heard - heard) < 2 * BEFORE || Math.abs(one.out - out) < 2 * BEFORE)) {
      found.push({ out, heard, attack: false });
    }
  }
  return found.sort((one, other) => one.out - other.out);
}

export class Sharp {
  /**
   * @param {{channels: Float32Array[], guide: Float32Array, rate: number}} sound `guide`: the mean of the channels
   * @param {Zone[]} map @param {number} start seconds of the stretch at which the first sample is heard
   */
  constructor(sound, map, start) {
    this.sound = sound;
    this.map = map;
    this.half = Math.round(HALF * sound.rate);
    this.reach = Math.round(REACH * sound.rate);
    this.start = Math.round(start * sound.rate);
    /** Pieces laid down so far, and the sample of the recording in the middle of the last one. */
    this.laid = 0;
    this.zone = 0;
    this.middle = this.place(this.start);
    this.rise = Float32Array.from({ length: this.half }, (_, at) => Math.sin((Math.PI * (at + 0.5)) / (2 * this.half)) ** 2);
  }

  /** So many pieces more, each `half` samples: one array for each channel. @param {number} pieces */
  block(pieces) {
    const { channels } = this.sound;
    const made = channels.map(() => new Float32Array(pieces * this.half));
    for (let piece = 0; piece < pieces; piece += 1) {
      const last = this.middle;
      this.laid += 1;
      const next = this.place(this.start + this.laid * this.half, last);
      for (let at = 0; at < this.half; at += 1) {
        const rise = this.rise[at];
        for (let channel = 0; channel < channels.length; channel += 1) {
          const fall = channels[channel][last + at] ?? 0;
          const come = channels[channel][next - this.half + at] ?? 0;
          made[channel][piece * this.half + at] = fall + rise * (come - fall);
        }
      }
      this.middle = next;
    }
    return made;
  }

  /**
   * The sample of the recording that stands in the middle of the piece whose middle is heard at sample `out`.
   * @param {number} out @param {number} [last] the middle of the piece before
   */
  place(out, last) {
    const { rate } = this.sound;
    const seconds = out / rate;
    while (this.zone + 1 < this.map.length && this.map[this.zone + 1].from <= seconds) this.zone += 1;
    const here = this.map[this.zone];
    const next = this.map[this.zone + 1];
    if (!here || seconds <= here.to || !next) return out + Math.round((here?.shift ?? 0) * rate);
    if (seconds < here.from) return out + Math.round(here.shift * rate);
    const share = (seconds - here.to) / (next.from - here.to);
    const [low, high] = [here.to + here.shift, next.from + next.shift];
    const middle = Math.round((low + share * (high - low)) * rate);
    if (last === undefined) return middle;
    // no piece but an attack's own may hold it, or it would be heard twice
    const least = here.attack ? Math.round((here.to + here.shift) * rate) : -Infinity;
    const most = next.attack ? Math.round((next.from + next.shift) * rate) : Infinity;
    const [from, to] = [Math.max(middle - this.reach, least), Math.min(middle + this.reach, most)];
    return from < to ? this.fitting(last, from, to) : middle;
  }

  /** The middle between `from` and `to` whose first half is likest to what follows the piece before. */
  fitting(last, from, to) {
    const near = this.likest(last, from, to, COARSE);
    return this.likest(last, Math.max(near - COARSE, from), Math.min(near + COARSE, to), 1);
  }

  likest(last, from, to, step) {
    const { guide } = this.sound;
    let best = -Infinity;
    let found = from;
    for (let middle = from; middle <= to; middle += step) {
      let both = 0;
      let own = 1e-9;
      for (let at = 0; at < this.half; at += step) {
        const come = guide[middle - this.half + at] ?? 0;
        both += come * (guide[last + at] ?? 0);
        own += come * come;
      }
      const like = both / Math.sqrt(own);
      if (like > best) [best, found] = [like, middle];
    }
    return found;
  }
}
