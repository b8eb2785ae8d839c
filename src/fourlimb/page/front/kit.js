/**
 * The drums: base64 text -> buffers, and one stroke -> a running source. Works in a live and in an offline context.
 */

/** @typedef {{buffer: AudioBuffer, gain: number}} Take */
/**
 * `pitch`: how many times as high as recorded.
 * @typedef {{level: number, side: number, room: number, pitch: number, layers: [number, Take[]][]}} Voice
 */
/** @typedef {{voices: Record<string, Voice>, clicks: AudioBuffer[], room: AudioBuffer, power: number}} Kit */

/**
 * @param {BaseAudioContext} context @param {any} data as `samples.py` wrote it @param {(share: number) => void} tell
 * @returns {Promise<Kit>}
 */
export async function openKit(context, data, tell) {
  /** @type {Record<string, Voice>} */
  const voices = {};
  const names = Object.keys(data.sounds);
  for (const [done, name] of names.entries()) {
    const { level, side, room, layers, of = "", pitch = 1 } = data.sounds[name];
    if (of) {
      voices[name] = { level, side, room, pitch, layers: voices[of].layers };
      continue;
    }
    const opened = layers.map(async ([velocity, takes]) => [velocity, await Promise.all(takes.map(open))]);
    voices[name] = { level, side, room, pitch, layers: /** @type {any} */ (await Promise.all(opened)) };
    tell((done + 1) / names.length);
  }
  /** @param {{mp3: string, gain: number}} take */
  async function open(take) {
    return { buffer: await context.decodeAudioData(bytes(take.mp3)), gain: take.gain };
  }
  const [room, ...clicks] = await Promise.all([data.room, ...data.clicks].map(async ({ flac, gain }) => {
    const buffer = await context.decodeAudioData(bytes(flac));
    scale(buffer, gain);
    return buffer;
  }));
  return { voices, clicks, room, power: data.power };
}

/** @param {string} base64 @returns {ArrayBuffer} */
function bytes(base64) {
  return /** @type {ArrayBuffer} */ (Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0)).buffer);
}

/** @param {AudioBuffer} buffer @param {number} gain */
function scale(buffer, gain) {
  for (let channel = 0; channel < buffer.numberOfChannels; channel += 1) {
    const samples = buffer.getChannelData(channel);
    for (let at = 0; at < samples.length; at += 1) samples[at] *= gain;
  }
}

/**
 * Starts one sound at an exact sample of the context's clock.
 * @param {BaseAudioContext} context @param {Kit} kit @param {import("./strokes.js").Blow} blow
 * @param {number} when seconds of the context @param {AudioNode} into
 * @returns {AudioBufferSourceNode | null}
 */
export function strike(context, kit, blow, when, into) {
  const start = Math.max(0, Math.round(when * context.sampleRate) / context.sampleRate);
  const source = context.createBufferSource();
  const loud = context.createGain();
  source.connect(loud);
  if (blow.sound === "click") {
    source.buffer = kit.clicks[blow.turn];
  } else {
    const voice = kit.voices[blow.sound];
    if (!voice) return null;
    const take = nearest(voice, blow.velocity, blow.turn);
    source.buffer = take.buffer;
    source.playbackRate.value = voice.pitch;
    const strength = voice.level * (Math.min(Math.max(blow.velocity, 1), 127) / 127) ** kit.power;
    loud.gain.value = take.gain * strength;
    if (blow.stop > 0) damp(loud.gain, take.gain * strength, start + blow.stop, blow.fade);
  }
  loud.connect(into);
  source.start(start);
  return source;
}

/** @param {Voice} voice @param {number} velocity @param {number} turn @returns {Take} */
function nearest(voice, velocity, turn) {
  let best = voice.layers[0];
  for (const layer of voice.layers) {
    if (Math.abs(layer[0] - velocity) < Math.abs(best[0] - velocity)) best = layer;
  }
  return best[1][turn % best[1].length];
}

/** @param {AudioParam} gain @param {number} full @param {number} at @param {number} fade seconds */
function damp(gain, full, at, fade) {
  gain.setValueAtTime(full, at);
  gain.linearRampToValueAtTime(0, at + fade);
}
