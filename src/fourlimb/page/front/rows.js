/**
 * Which bars stand in which row of the page, and which window of the picture shows them. Pure.
 * A level's picture is a list of lines; every bar has a box in one of them (line, x, width, and x by quarter), all in
 * widths of the printed page.
 */

/** @typedef {{line: number, x: number, width: number, marks: [number, number][], rest?: boolean}} Box */
/** @typedef {{line: number, bars: number[], x: number, width: number, opens: boolean, rest: boolean}} Row */

/** White left and right of a window, in page widths: room for the line's opening, and none for the bars around it. */
const MARGIN = { opening: 0.01, inside: 0.003 };

/**
 * Bars of one long rest, drawn as one, stay in one row of their own.
 * @param {(Box | null)[]} boxes by bar index @param {number} most bars in a row
 * @returns {Row[]}
 */
export function rowsOf(boxes, most) {
  /** @type {Row[]} */
  const rows = [];
  boxes.forEach((box, bar) => {
    if (!box) return;
    const last = rows[rows.length - 1];
    const goesOn = inLongRest(boxes, bar - 1, bar);
    const room = last && last.bars.length < most && (goesOn || !inLongRest(boxes, bar, bar + 1) || most === Infinity);
    if (last && last.line === box.line && (goesOn || room)) last.bars.push(bar);
    else rows.push({ line: box.line, bars: [bar], x: 0, width: 0, opens: !last || last.line !== box.line, rest: false });
  });
  for (const row of rows) {
    const first = /** @type {Box} */ (boxes[row.bars[0]]);
    const end = /** @type {Box} */ (boxes[row.bars[row.bars.length - 1]]);
    const left = row.opens ? MARGIN.opening : MARGIN.inside;
    row.x = first.x - left;
    row.rest = row.bars.length > 1 && row.bars.every((bar) => boxes[bar]?.rest);
    row.width = end.x + end.width - first.x + left + MARGIN.inside;
  }
  return rows;
}

/** Whether two bars that follow one another are silent and on one line. @param {(Box | null)[]} boxes @param {number} bar @param {number} next */
function inLongRest(boxes, bar, next) {
  const [one, other] = [boxes[bar], boxes[next]];
  return !!one?.rest && !!other?.rest && one.line === other.line;
}

/** Where a place stands, in page widths: between the marks on either side of it. @param {Box} box @param {number} quarter @param {number} length of the bar in quarters */
export function xAt(box, quarter, length) {
  let [q0, x0] = box.marks[0] ?? [0, box.x];
  if (quarter <= q0) return x0;
  for (const [q1, x1] of [...box.marks.slice(1), /** @type {[number, number]} */ ([length, box.x + box.width])]) {
    if (quarter <= q1) return x0 + ((quarter - q0) / Math.max(q1 - q0, 1e-6)) * (x1 - x0);
    [q0, x0] = [q1, x1];
  }
  return box.x + box.width;
}

/**
 * Count words that have room: numbers always; the words after a number all or none, so that no "let" stands without
 * its "trip"; silent ones (in brackets) where there is room left.
 * @template {{word: string, x: number}} W
 * @param {W[]} words left to right @param {number} letter width of a letter, in the unit of x @returns {W[]}
 */
export function spaced(words, letter) {
  const isNumber = (each) => /^\(?\d/.test(each.word);
  const room = (one, other) => Math.abs(one.x - other.x) >= letter * (0.8 + (one.word.length + other.word.length) / 2);
  /** @type {W[]} */
  const kept = words.filter(isNumber);
  /** @type {W[][]} */
  const groups = [];
  for (const each of words) {
    if (isNumber(each) || groups.length === 0) groups.push([]);
    if (!isNumber(each)) groups[groups.length - 1].push(each);
  }
  for (const group of groups) {
    const said = group.filter((each) => !each.word.startsWith("("));
    const all = [...kept, ...said];
    if (said.every((each) => all.every((other) => other === each || room(each, other)))) kept.push(...said);
  }
  for (const each of groups.flat()) {
    if (each.word.startsWith("(") && kept.every((other) => room(each, other))) kept.push(each);
  }
  return kept.sort((a, b) => a.x - b.x);
}
