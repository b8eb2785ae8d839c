/**
 * The student's own copy of the song, heard under the drums at every tempo. It is read on this device, from a press by
 * the person; it is neither sent nor kept.
 */
import { aligned, inOrder } from "./align.js";
import { Sharp, zones } from "./sharp.js";

/** A copy that is longer or shorter than the lesson's recording by more than this is said to be (seconds). */
const LENGTH_OFF = 3;
/** Longest that is opened: it is held whole, decoded (seconds). */
const LONGEST = 20 * 60;
/** Its mean loudness before the slider, and how much a quiet one is lifted at most. */
const AIM = 0.11;
const MOST_LIFT = 8;
/** Pieces made at a time: a quarter of a second. */
const PIECES = 11;
/** Passes and changes of tempo meet in a cross-fade of this length (seconds). */
const MEET = 0.02;
/** A passage that is not repeated rings on this long (seconds). */
const RING_ON = 0.4;

/** @typedef {{channels: Float32Array[], guide: Float32Array, rate: number, lift: number, marks: import("./sharp.js").Landmarks,
 *             fits: boolean, says: string}} Copy */

/**
 * Opens a copy. Throws an Error that says what is wrong with the file.
 * @param {any} song the page's data @param {File} file @param {BaseAudioContext} context @returns {Promise<Copy>}
 */
export async function openCopy(song, file, context) {
  const bytes = await file.arrayBuffer();
  const same = await isSame(song, bytes);
  const sound = await context.decodeAudioData(bytes).catch(() => { throw new Error(`${file.name} cannot be played by this browser: take WAV, FLAC, MP3 or OGG`); });
  if (sound.duration > LONGEST) throw new Error(`${file.name} lasts over ${LONGEST / 60} minutes: cut out the song`);
  const channels = Array.from({ length: Math.min(sound.numberOfChannels, 2) }, (_, at) => sound.getChannelData(at));
  const guide = mean(channels);
  const { later, clear } = same ? { later: 0, clear: true } : aligned(guide, sound.sampleRate, song.record.strokes);
  const off = sound.duration - song.record.seconds;
  return {
    channels, guide, rate: sound.sampleRate, lift: lift(guide), marks: marks(song, later),
    fits: clear, says: said(file.name, clear, later, Math.abs(off) > LENGTH_OFF ? off : 0),
  };
}

/** The lesson's bar lines and attacks in a copy that is so much later. @param {any} song @param {number} later */
export function marks(song, later) {
  const { lines, strokes } = song.record;
  return { lines: lines.map((one) => one + later), attacks: inOrder(strokes).map((one) => one + later) };
}

function said(name, clear, later, off) {
  if (!clear) return `${name} may be another recording than the one this lesson was made from. Play it along and hear whether its bars are those of the chart.`;
  const begins = Math.abs(later) < 0.005 ? "" : `, ${Math.abs(later).toFixed(2)} seconds ${later > 0 ? "later" : "earlier"} than the lesson's`;
  const lasts = off ? ` It is ${Math.abs(Math.round(off))} seconds ${off > 0 ? "longer" : "shorter"}: another version may have other bars.` : "";
  return `${name} is in step with the chart${begins}.${lasts}`;
}

/** Whether these are the very bytes that the lesson was made from. A browser may refuse to count them. */
async function isSame(song, bytes) {
  const sum = await crypto.subtle?.digest("SHA-256", bytes).catch(() => null);
  const text = sum ? [...new Uint8Array(sum)].map((one) => one.toString(16).padStart(2, "0")).join("") : "";
  return text !== "" && text.startsWith(song.id);
}

/** @param {Float32Array[]} channels */
function mean(channels) {
  const [left, right] = channels;
  return right ? left.map((one, at) => (one + right[at]) / 2) : left;
}

/** What brings it to its mean loudness. @param {Float32Array} guide */
function lift(guide) {
  let power = 0;
  for (let at = 0; at < guide.length; at += 16) power += guide[at] ** 2;
  return Math.min(AIM / Math.sqrt(power / Math.max(guide.length / 16, 1) || 1), MOST_LIFT);
}

/** Hands a copy to the clock, block after block, in step with a run. */
export class Tape {
  /** @param {BaseAudioContext} context @param {Copy} copy @param {AudioNode} input */
  constructor(context, copy, input) {
    this.context = context;
    this.copy = copy;
    this.input = input;
    /** @type {import("./run.js").Run | null} */
    this.run = null;
    /** @type {{node: AudioBufferSourceNode, when: number, end: number}[]} blocks handed out, for tests as well */
    this.live = [];
    this.gain = this.fresh();
    this.over = false;
    /** @type {import("./sharp.js").Zone[]} what is heard when in the run that is in force */
    this.map = [];
    /** @type {Sharp | null} */
    this.sharp = null;
    this.pass = 0;
    /** Clock at which the next block begins, and at which its pass ends. */
    this.at = 0;
    this.end = 0;
  }

  /** Everything that begins before `until`. @param {import("./run.js").Run} run @param {number} now @param {number} until */
  ahead(run, now, until) {
    if (this.run !== run) this.begin(run, now);
    while (!this.over) {
      if (this.sharp && this.at < now) this.sharp = null; // the page was asleep: on from where the song is now
      if (!this.sharp) {
        if (!this.open(now, until)) return;
      } else {
        if (this.at >= until) return;
        this.put();
      }
    }
  }

  /** A run is in force: its first pass, or the one that sounds now. */
  begin(run, now) {
    Object.assign(this, { run, over: false, sharp: null, gain: this.fresh() });
    this.map = zones(this.copy.marks, run.part);
    const from = Math.max(run.begins, now);
    this.pass = run.wish.repeat ? Math.max(Math.floor((from - run.zero) / run.period + 1e-9), 0) : 0;
  }

  /** Opens the pass that comes next, or leaves one out that is over already; false when it is too early to. */
  open(now, until) {
    const run = /** @type {import("./run.js").Run} */ (this.run);
    const zero = run.zero + this.pass * run.period;
    const first = Math.max(zero - MEET, run.begins - MEET, now + MEET);
    if (first >= until) return false;
    const { rate } = this.copy;
    this.at = Math.round(first * rate) / rate;
    this.end = zero + run.part.length + (run.wish.repeat ? 0 : RING_ON);
    this.sharp = this.at < this.end ? new Sharp(this.copy, this.map, this.at - zero) : null;
    if (!this.sharp) this.next();
    this.rises = true;
    return true;
  }

  /** One block more. */
  put() {
    const sharp = /** @type {Sharp} */ (this.sharp);
    const { rate } = this.copy;
    const left = Math.round((this.end - this.at) * rate);
    const pieces = Math.min(PIECES, Math.ceil(left / sharp.half));
    const made = sharp.block(pieces).map((one) => one.subarray(0, left));
    if (this.rises) made.forEach((one) => slope(one, 0, Math.round(MEET * rate), false));
    this.rises = false;
    const fall = Math.round((this.run?.wish.repeat ? MEET : RING_ON) * rate);
    const ends = left - made[0].length;
    if (ends < fall) made.forEach((one) => slope(one, left - fall, fall, true));
    const buffer = this.context.createBuffer(made.length, made[0].length, rate);
    made.forEach((one, channel) => buffer.copyToChannel(/** @type {Float32Array<ArrayBuffer>} */ (one), channel));
    const node = new AudioBufferSourceNode(this.context, { buffer });
    node.connect(this.gain);
    node.start(this.at);
    const entry = { node, when: this.at, end: this.at + made[0].length / rate };
    this.live.push(entry);
    node.onended = () => { this.live = this.live.filter((one) => one !== entry); };
    this.at = entry.end;
    if (this.at >= this.end - 0.5 / rate) this.next();
  }

  next() {
    this.sharp = null;
    this.pass += 1;
    this.over = !this.run?.wish.repeat;
  }

  /** Takes back what would sound from a time on. @param {number} at */
  cancel(at) {
    if (!this.run) return;
    this.gain.gain.setValueAtTime(1, at);
    this.gain.gain.linearRampToValueAtTime(0, at + MEET);
    for (const { node, when, end } of this.live) {
      if (when >= at + MEET) node.stop(0);
      else if (end > at + MEET) node.stop(at + MEET);
    }
    this.live = this.live.filter(({ when }) => when < at + MEET);
    this.run = null;
    this.over = false;
  }

  fresh() {
    const gain = new GainNode(this.context, { gain: 1 });
    gain.connect(this.input);
    return gain;
  }
}

/** A straight fade over the samples from `start` (which may lie before the block) on. */
function slope(block, start, length, down) {
  for (let at = Math.max(start, 0); at < Math.min(start + length, block.length); at += 1) {
    const share = (at - start + 0.5) / length;
    block[at] *= down ? 1 - share : share;
  }
}
