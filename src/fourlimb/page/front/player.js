/**
 * The audio clock: keeps the sounds of a run scheduled a little ahead, and says which place is being heard now.
 * Nothing starts without a press by the person.
 */
import { openKit, strike } from "./kit.js";
import { Mix } from "./mix.js";
import { score } from "./plan.js";
import { Tape } from "./record.js";
import { changedRun, due, heardAt, openRun } from "./run.js";

/** Sounds are handed to the clock this far ahead (seconds): more while the page is hidden and timers are slow. */
const AHEAD = { seen: 1.2, hidden: 3.5 };
const EVERY_MS = 100;
/** Between a press and the first sound (seconds): time to schedule the first strokes. */
const LEAD = 0.2;
/** A change while playing takes effect this much later (seconds), so that nothing already due is lost. */
const SWITCH = 0.08;
/** The first start of a visit fades in over this many seconds; later ones only avoid a click. */
const FADE = { first: 1.5, later: 0.05 };
/** The last cymbals ring on this long (seconds) before a stretch that is not repeated counts as over. */
const TAIL = 1.5;
const FIRST_VOLUME = 0.4;
/** A sound device that has not answered for this long (seconds) is not there. */
const ANSWER = 4;
/** After a stop the last cymbals have rung out; then the sound device may rest (milliseconds). */
const REST_MS = 4000;

/** @typedef {import("./run.js").Wish & {level: string}} LevelWish */

export class Player {
  /** @param {any} song the page's data */
  constructor(song) {
    this.song = song;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {Mix | null} */
    this.mix = null;
    /** @type {import("./run.js").Run[]} runs in force, oldest first; the last is being scheduled */
    this.runs = [];
    /** @type {{node: AudioBufferSourceNode, when: number}[]} */
    this.live = [];
    this.volume = FIRST_VOLUME;
    /** @type {Record<string, boolean>} */
    this.muted = {};
    this.timer = 0;
    this.fresh = true;
    /** Sounds handed to the clock so far: for whoever looks in from outside. */
    this.scheduled = 0;
    /** Seconds later that the person hears the sound than the computer thinks (wireless headphones). */
    this.delay = 0;
    this.onEnd = () => {};
    /** The device took the sound away while it played. */
    this.onCut = () => {};
    this.resting = 0;
    /** @type {import("./record.js").Copy | null} the student's own copy of the song, when one was chosen */
    this.copy = null;
    /** @type {Tape | null} */
    this.tape = null;
    this.loud = 1;
  }

  get playing() {
    return this.runs.length > 0;
  }

  /** Opens the sound; only ever called from a press. @param {(share: number) => void} tell @returns {Promise<Mix>} */
  async open(tell) {
    const context = this.device();
    window.clearTimeout(this.resting);
    await answered(context.resume());
    if (!this.mix) {
      const mix = new Mix(context, await openKit(context, this.song.kit, tell));
      mix.setVolume(this.volume);
      for (const bus of /** @type {const} */ (["hands", "feet", "click"])) mix.mute(bus, !!this.muted[bus]);
      this.mix = mix;
      this.setCopy(this.loud);
    }
    return this.mix;
  }

  /** A copy plays along from now on; null: none does. @param {import("./record.js").Copy | null} copy */
  playAlong(copy) {
    this.tape?.cancel(this.context?.currentTime ?? 0);
    this.tape = null;
    this.copy = copy;
    this.setCopy(this.loud);
    this.keepAhead();
  }

  /** Loudness of the copy: 1 is about that of the drums. @param {number} value */
  setCopy(value) {
    this.loud = value;
    this.mix?.setCopy(value * (this.copy?.lift ?? 0));
  }

  /** The sound device; on a telephone it is heard with the ringer off, too. */
  device() {
    if (this.context) return this.context;
    const session = /** @type {any} */ (navigator).audioSession;
    if (session) session.type = "playback";
    const context = new AudioContext({ latencyHint: "interactive" });
    context.onstatechange = () => { if (context.state !== "running" && this.playing) this.onCut(); };
    this.context = context;
    return context;
  }

  /** @param {LevelWish} wish @param {(share: number) => void} tell */
  async start(wish, tell) {
    const mix = await this.open(tell);
    this.halt(mix.context.currentTime);
    const at = mix.context.currentTime + LEAD;
    mix.fadeIn(at - 0.02, this.fresh ? FADE.first : FADE.later);
    this.fresh = false;
    this.runs = [openRun(this.song, this.score(wish.level), wish, at)];
    this.keepAhead();
    this.timer = window.setInterval(() => this.keepAhead(), EVERY_MS);
  }

  /** Carries on with another tempo, level, count-in or repeat, without a gap. @param {LevelWish} wish */
  change(wish) {
    if (!this.context || !this.playing) return;
    const at = this.context.currentTime + SWITCH;
    const old = this.runs[this.runs.length - 1];
    if (heardAt(this.song, old, at).kind === "over") return;
    this.cancel(at);
    this.runs.push(changedRun(this.song, old, this.score(wish.level), wish, at));
    this.keepAhead();
  }

  stop() {
    if (!this.context || !this.mix) return;
    this.mix.fadeOut(this.context.currentTime);
    this.halt(this.context.currentTime + 0.15);
  }

  /** @param {string} level */
  score(level) {
    return score(this.song, this.song.levels[level]);
  }

  /** Schedules what comes due, and ends a run that is over. */
  keepAhead() {
    if (!this.context || !this.mix || !this.playing) return;
    const now = this.context.currentTime;
    const run = this.runs[this.runs.length - 1];
    const until = now + (document.hidden ? AHEAD.hidden : AHEAD.seen);
    for (const { blow, when } of due(this.song, run, until)) {
      const node = when < now ? null : strike(this.context, this.mix.kit, blow, when, this.mix.input(blow.bus, blow.sound));
      if (node) this.keep(node, when);
    }
    if (this.copy && !this.tape) this.tape = new Tape(this.context, this.copy, this.mix.copy);
    this.tape?.ahead(run, now, until);
    if (this.heard().kind === "over" && now > run.zero + run.part.length + TAIL) {
      this.halt(now);
      this.onEnd();
    }
  }

  /** @param {AudioBufferSourceNode} node @param {number} when */
  keep(node, when) {
    const entry = { node, when };
    this.live.push(entry);
    this.scheduled += 1;
    node.onended = () => {
      const at = this.live.indexOf(entry);
      if (at >= 0) this.live.splice(at, 1);
    };
  }

  /** Takes back what would start at or after a time. @param {number} at */
  cancel(at) {
    for (const { node, when } of this.live) if (when >= at) node.stop(0);
    this.live = this.live.filter(({ when }) => when < at);
    this.tape?.cancel(at);
  }

  /** Ends all sound at a time. @param {number} at */
  halt(at) {
    window.clearInterval(this.timer);
    this.runs = [];
    for (const { node } of this.live) node.stop(at);
    this.live = [];
    this.tape?.cancel(at);
    window.clearTimeout(this.resting);
    this.resting = window.setTimeout(() => { if (!this.playing) this.context?.suspend(); }, REST_MS);
  }

  /** What is being heard now. @returns {import("./run.js").Heard} */
  heard() {
    const now = this.clock();
    for (let at = this.runs.length - 1; at > 0; at -= 1) {
      if (this.runs[at].since <= now) {
        this.runs.splice(0, at);
        break;
      }
    }
    return this.playing ? heardAt(this.song, this.runs[0], now) : { kind: "over" };
  }

  /** The context's time that reaches the ear now: straighter than `currentTime`, which runs ahead of the ear. */
  clock() {
    if (!this.context) return 0;
    const stamp = this.context.getOutputTimestamp?.();
    if (stamp?.contextTime && stamp.performanceTime) {
      return stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000 - this.delay;
    }
    return this.context.currentTime - (this.context.outputLatency || 0) - this.delay;
  }
}

/** @param {Promise<void>} waking */
function answered(waking) {
  const silent = new Promise((_, give) => { window.setTimeout(() => give(new Error("no sound device answers")), ANSWER * 1000); });
  return Promise.race([waking, silent]);
}
