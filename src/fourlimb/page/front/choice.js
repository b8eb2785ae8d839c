/**
 * What the student has chosen, and how it comes back on the next visit. Bars are remembered by their number, since a
 * corrected lesson may have others. Loudness and silenced limbs are not remembered: every visit starts low and whole.
 */

/**
 * `rounds`: bars of count-in, or "tempo" (as usual at this tempo). `pending`: a first bar whose last is not chosen yet.
 * @typedef {{level: string, percent: number, from: number, to: number, start: number, repeat: boolean,
 *            rounds: number | "tempo", countEach: boolean, pending: number | null, most: number}} Chosen
 */
/** @typedef {ReturnType<typeof import("./memory.js").memory>} Memory */

const NAME = "chosen";

/** What was chosen last time, as far as this page has it. @param {any} song @param {Memory} kept @returns {Chosen} */
export function remembered(song, kept) {
  const last = song.bars.length - 1;
  const level = kept.get("level", "");
  const was = kept.get(NAME, {});
  const of = (name, kind, otherwise) => (typeof was?.[name] === kind ? was[name] : otherwise);
  const bar = (name, otherwise) => {
    const at = song.bars.findIndex((each) => each.n === was?.[name]);
    return at < 0 ? otherwise : at;
  };
  const [from, to] = [bar("from", 0), bar("to", last)];
  const whole = from > to || (from === 0 && to === last);
  const start = bar("start", whole ? 0 : from);
  return {
    level: song.order.includes(level) ? level : song.order[0],
    percent: of("percent", "number", song.start_percent),
    from: whole ? 0 : from, to: whole ? last : to, start: whole || (from <= start && start <= to) ? start : from,
    repeat: of("repeat", "boolean", false), rounds: of("rounds", "number", "tempo"),
    countEach: of("countEach", "boolean", false), pending: null, most: of("most", "number", 0),
  };
}

/** @param {any} song @param {Memory} kept @param {Chosen} chosen */
export function remember(song, kept, chosen) {
  const { percent, repeat, rounds, countEach, most } = chosen;
  const whole = chosen.from === 0 && chosen.to === song.bars.length - 1; // also of a lesson that has more bars tomorrow
  const [from, to] = whole ? [] : [song.bars[chosen.from].n, song.bars[chosen.to].n];
  const start = song.bars[chosen.start].n;
  kept.set("level", chosen.level);
  kept.set(NAME, { percent, from, to, start, repeat, rounds, countEach, most });
}
