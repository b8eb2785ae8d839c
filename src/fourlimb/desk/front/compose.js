/** The very words that `fourlimb correct` takes, composed from what is pressed. Pure. */

/** @param {number} from @param {number} to both included; 0 is the pickup */
export function barsWords(from, to) {
  if (from === to) return from === 0 ? "pickup" : `bar ${from}`;
  return `bars ${from}-${to}`;
}

/** Bars where they stand in the middle of a sentence; a pickup is called by its number there. */
function these(from, to) {
  return from === to ? `bar ${from}` : `bars ${from}-${to}`;
}

/** What stands before the colon. @param {{from: number, to: number, level?: string}} bars `level`: only in its chart */
function scope({ from, to, level = "" }) {
  return `${level ? `${level} ` : ""}${barsWords(from, to)}:`;
}

export const say = {
  right: ({ from, to }) => `${barsWords(from, to)}: right`,
  learn: ({ from, to }) => `learn from ${these(from, to)}`,
  /** @param {any} bars @param {string} piece @param {string[]} places @param {string} way "" leaves how it is struck */
  strokes: (bars, piece, places, way = "") => {
    if (!places.length) return `${scope(bars)} no ${piece}`;
    return `${scope(bars)} ${way ? `${way} ` : ""}${piece} ${places.join(" ")}`;
  },
  every: (bars, piece, step) => `${scope(bars)} ${piece} every ${step}`,
  silent: (bars) => `${scope(bars)} silent`,
  as: (bars, other) => `${scope(bars)} as bar ${other}`,
  lifted: ({ from, to }, level, other) => `${level} ${barsWords(from, to)}: as ${other}`,
  is: ({ from, to }, heard, really) => `${barsWords(from, to)}: the ${heard} is the ${really}`,
  alike: (heard, really) => `alike: the ${heard} is the ${really}`,
  tempo: (twice) => (twice ? "tempo x2" : "tempo /2"),
  meter: (meter, bars) => (bars ? `${barsWords(bars.from, bars.to)}: meter ${meter}` : `meter ${meter}`),
  one: (bar, beat) => `bar ${bar} beat ${beat} is the one`,
  line: (seconds) => `bar line at ${seconds.toFixed(2)}`,
  feel: ({ from, to }, feel) => `${barsWords(from, to)}: ${feel}`,
  section: ({ from, to }, name) => `${barsWords(from, to)}: section ${name}`,
  title: (name) => `title ${name}`,
  aim: (level, target) => `${level}: ${target}`,
};
