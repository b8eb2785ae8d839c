/**
 * From strokes to the loudspeaker: hands, feet and click each on their own bus, one small room, a volume that starts
 * low, and a rounded ceiling so that no pile of strokes is louder than full scale. Adds no delay.
 */

/** Level of a full kick at full volume, near that of the lesson's sound files; the rounded ceiling touches less than one
 * sample in a thousand of a whole song (measured). */
const TRIM = 0.72;
/** "count" is the count-in: it sounds even when the click is muted. */
const BUSES = /** @type {const} */ (["hands", "feet", "click", "count"]);
/** Mutes and volume move over about this many seconds, so that nothing jumps or clicks. */
const GLIDE = 0.02;
/** The ceiling's curve covers input up to this many times full scale. */
const HEADROOM = 4;

/** @typedef {(typeof BUSES)[number]} Bus */

export class Mix {
  /** @param {BaseAudioContext} context @param {import("./kit.js").Kit} kit */
  constructor(context, kit) {
    this.context = context;
    this.kit = kit;
    this.fade = gain(context, 0);
    this.volume = gain(context, 0);
    const ceiling = context.createWaveShaper();
    ceiling.curve = rounded();
    this.fade.connect(this.volume).connect(gain(context, 1 / HEADROOM)).connect(ceiling);
    ceiling.connect(context.destination);
    const room = context.createConvolver();
    room.normalize = false;
    room.buffer = kit.room;
    room.connect(this.fade);
    /** @type {Record<string, {dry: GainNode, wet: GainNode}>} */
    this.buses = {};
    for (const bus of BUSES) {
      this.buses[bus] = { dry: gain(context, 1), wet: gain(context, 1) };
      this.buses[bus].dry.connect(this.fade);
      this.buses[bus].wet.connect(room);
    }
    /** Where the student's own copy of the song goes in: as it is, without our room. */
    this.copy = gain(context, 0);
    this.copy.connect(this.fade);
    /** @type {Map<string, AudioNode>} */
    this.strips = new Map();
  }

  /** Where one sound of one bus goes in. @param {Bus} bus @param {string} sound @returns {AudioNode} */
  input(bus, sound) {
    const name = `${bus} ${sound}`;
    const strip = this.strips.get(name) ?? this.strip(bus, sound);
    this.strips.set(name, strip);
    return strip;
  }

  /** @param {Bus} bus @param {string} sound */
  strip(bus, sound) {
    const trim = gain(this.context, TRIM);
    const voice = this.kit.voices[sound];
    if (!voice) {
      trim.connect(this.buses[bus].dry);
      return trim;
    }
    const side = this.context.createStereoPanner();
    side.pan.value = voice.side;
    trim.connect(side).connect(this.buses[bus].dry);
    side.connect(gain(this.context, voice.room)).connect(this.buses[bus].wet);
    return trim;
  }

  /** @param {Bus} bus @param {boolean} muted */
  mute(bus, muted) {
    for (const part of Object.values(this.buses[bus])) glide(this.context, part.gain, muted ? 0 : 1);
  }

  /** @param {number} share 0 to 1 of the slider; squared, so that the slider's lower half is quiet */
  setVolume(share) {
    glide(this.context, this.volume.gain, share * share);
  }

  /** @param {number} value of the copy, 1 for its mean loudness */
  setCopy(value) {
    glide(this.context, this.copy.gain, value);
  }

  /** From silence up. @param {number} at seconds of the context @param {number} seconds */
  fadeIn(at, seconds) {
    this.fade.gain.cancelScheduledValues(0);
    this.fade.gain.setValueAtTime(0, at);
    this.fade.gain.linearRampToValueAtTime(1, at + seconds);
  }

  /** Down at once. @param {number} at */
  fadeOut(at) {
    this.fade.gain.cancelScheduledValues(at);
    this.fade.gain.setTargetAtTime(0, at, GLIDE);
  }
}

/** @param {BaseAudioContext} context @param {number} value */
function gain(context, value) {
  const node = context.createGain();
  node.gain.value = value;
  return node;
}

/** @param {BaseAudioContext} context @param {AudioParam} param @param {number} value */
function glide(context, param, value) {
  param.cancelScheduledValues(context.currentTime);
  param.setTargetAtTime(value, context.currentTime, GLIDE);
}

/** Straight up to 0.7, then rounded towards 0.98. */
function rounded() {
  const half = 4096;
  const curve = new Float32Array(2 * half + 1);
  for (let at = 0; at < curve.length; at += 1) {
    const size = Math.abs(at / half - 1) * HEADROOM;
    const soft = size < 0.7 ? size : 0.7 + 0.28 * Math.tanh((size - 0.7) / 0.28);
    curve[at] = Math.sign(at - half) * soft;
  }
  return curve;
}
