/** Hearing bars: of the recording, of the chart, one after the other or both at once, and where the sound is. */
import { sound } from "./api.js";

/** Seconds over which sound comes up: nothing starts with a jump. */
const RISE_S = 0.03;
/** What our beats are called when they are asked for. */
const CLICK = "click";
/** Between one and the other, seconds. */
const PAUSE_S = 0.35;
/** How many pieces of sound are kept. */
const KEPT = 12;

/** @typedef {{what: string, buffer: AudioBuffer, places: {bars: [number, number][], end: number, lead: number}, at: number}} Part */

export class Hearing {
  /** @param {{place: (bar: number, share: number) => void, stopped: () => void}} tell */
  constructor(tell) {
    this.tell = tell;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {GainNode | null} */
    this.gain = null;
    /** @type {Map<string, Promise<{buffer: AudioBuffer, places: any}>>} */
    this.kept = new Map();
    /** @type {Part[]} */
    this.parts = [];
    /** @type {AudioBufferSourceNode[]} */
    this.sources = [];
    this.volume = 0.4;
    this.turn = 0;
  }

  get playing() {
    return this.parts.length > 0;
  }

  /** @param {number} share 0 to 1 */
  setVolume(share) {
    this.volume = share;
    if (this.gain && this.context) this.gain.gain.setTargetAtTime(share * share, this.context.currentTime, 0.02);
  }

  /** Lets go of sound of a lesson that has changed. */
  forget() {
    this.kept.clear();
  }

  /**
   * Plays bars of "recording" and "chart", in this order; `together`: both at once; `click`: our beats with each;
   * `again()` is asked at each end.
   * @param {string[]} whats @param {Record<string, string | number>} query
   * @param {{together: boolean, click: boolean, again: () => boolean}} how
   */
  async play(whats, query, how) {
    const { together, click, again } = how;
    this.stop();
    const turn = ++this.turn;
    const context = this.open();
    const wanted = click ? [...whats, CLICK] : whats;
    const heard = await Promise.all(wanted.map((what) => this.fetched({ ...query, what })));
    const clicked = click ? heard.pop() : undefined;
    if (turn !== this.turn) return;
    await context.resume();
    let at = context.currentTime + 0.08;
    for (const [index, { buffer, places }] of heard.entries()) {
      this.parts.push({ what: whats[index], buffer, places, at });
      this.sources.push(this.source(context, buffer, at));
      if (clicked && (index === 0 || !together)) this.sources.unshift(this.source(context, clicked.buffer, at));
      if (!together) at += places.end + PAUSE_S;
    }
    const last = this.sources[this.sources.length - 1];
    last.onended = () => {
      if (turn !== this.turn) return;
      if (again()) this.play(whats, query, how);
      else this.stop();
    };
    this.draw(turn);
  }

  stop() {
    this.turn += 1;
    for (const source of this.sources) source.stop();
    const sounded = this.playing;
    this.parts = [];
    this.sources = [];
    if (sounded) this.tell.stopped();
  }

  /**
   * What is heard now: of which, which bar, how far through it (0 to 1), and seconds since its first bar.
   * @param {string} [of] only of this, null while it does not sound
   */
  now(of) {
    if (!this.context) return null;
    const clock = this.context.currentTime - (this.context.outputLatency || 0);
    const begun = this.parts.filter((each) => each.at <= clock && (!of || each.what === of));
    const part = begun[begun.length - 1] ?? (of ? null : this.parts[0]);
    if (!part || (of && clock > part.at + part.buffer.duration)) return null;
    const time = clock - part.at;
    const { bars, end, lead } = part.places;
    const index = Math.max(bars.findLastIndex(([, start]) => start <= time), 0);
    const [bar, start] = bars[index];
    const stop = bars[index + 1]?.[1] ?? end;
    return { what: part.what, bar, share: Math.min(Math.max((time - start) / (stop - start), 0), 1), since: time - lead, first: bars[0][0] };
  }

  /** @param {number} turn */
  draw(turn) {
    if (turn !== this.turn) return;
    const now = this.now();
    if (now) this.tell.place(now.bar, now.share);
    window.requestAnimationFrame(() => this.draw(turn));
  }

  open() {
    if (!this.context) {
      this.context = new AudioContext();
      this.gain = this.context.createGain();
      this.gain.gain.value = this.volume * this.volume;
      this.gain.connect(this.context.destination);
    }
    return this.context;
  }

  /** @param {AudioContext} context @param {AudioBuffer} buffer @param {number} at */
  source(context, buffer, at) {
    const source = context.createBufferSource();
    const rise = context.createGain();
    rise.gain.setValueAtTime(0, at);
    rise.gain.linearRampToValueAtTime(1, at + RISE_S);
    source.buffer = buffer;
    source.connect(rise);
    rise.connect(/** @type {GainNode} */ (this.gain));
    source.start(at);
    return source;
  }

  /** @param {Record<string, string | number>} query */
  fetched(query) {
    const key = JSON.stringify(query);
    const known = this.kept.get(key);
    if (known) return known;
    const wanted = sound(query).then(async ({ bytes, places }) => (
      { buffer: await this.open().decodeAudioData(bytes), places }));
    wanted.catch(() => this.kept.delete(key));
    this.kept.set(key, wanted);
    if (this.kept.size > KEPT) this.kept.delete([...this.kept.keys()][0]);
    return wanted;
  }
}
