/**
 * The chart on the page: rows of bars cut from the printed lines, the words beside them, the count under them, a button
 * on every bar, and the needle that shows the place being heard.
 */
import { barWords, calm, make, percent } from "./dom.js";
import { rowsOf, spaced, xAt } from "./rows.js";

/** Height of a line when the browser cannot measure it, in page widths. */
const LINE_HEIGHT = 0.12;

/** A row of few bars may be drawn larger than the widest row by this much, to fill a narrow screen. */
const GROW = 1.35;
/** Where in the free height of the window a row comes to stand when it is sought. */
const READ_FROM = 0.2;
/** Width that a silent beat, "(1)", needs in a long rest, in pixels. */
const REST_PX = 24;
/** Width of a letter of the count, in pixels (a little generous). */
const LETTER_PX = 6.2;

export class Chart {
  /** @param {any} song @param {HTMLElement} root @param {(bar: number, extend: boolean) => void} choose */
  constructor(song, root, choose) {
    this.song = song;
    this.root = root;
    this.choose = choose;
    this.needle = make("div", { class: "needle", "aria-hidden": "true" });
    /** @type {{bar: number, button: HTMLElement, picture: HTMLElement, row: any}[]} */
    this.cells = [];
    this.now = -1;
    /** @type {Element | null} the count word that is marked */
    this.spoken = null;
    /** The level drawn, its picture, the widest row in page widths, and how much larger short rows may be. */
    this.level = song.levels[song.order[0]];
    /** @type {Element} */
    this.source = root;
    this.widest = 1;
    this.grow = 1;
    /** @type {HTMLElement} */
    this.list = root;
    root.addEventListener("keydown", (event) => this.walk(event));
  }

  /** Draws a level with at most so many bars in a row. @param {string} level @param {number} most */
  draw(level, most) {
    this.level = this.song.levels[level];
    const source = /** @type {HTMLTemplateElement} */ (document.getElementById(`picture-${level}`));
    this.source = /** @type {Element} */ (document.importNode(source.content, true).firstElementChild);
    const rows = rowsOf(this.level.boxes, most);
    const played = rows.filter((row) => !row.rest);
    this.widest = Math.max(...(played.length ? played : rows).map((row) => row.width));
    this.grow = Number.isFinite(most) ? GROW : 1;
    this.cells = [];
    this.list = make("ol", { class: "rows" });
    this.root.replaceChildren(this.source, this.list);
    this.list.append(...rows.map((row) => this.row(row)));
    this.tabStop(0);
  }

  row(row) {
    const picture = make("div", { class: row.opens ? "picture" : "picture numbered", style: { width: percent(this.share(row)) } });
    picture.append(this.window(row));
    for (const bar of row.bars) picture.append(this.bar(bar, row, picture));
    picture.append(this.count(row));
    const beside = row.bars.filter((bar) => this.level.words[bar].first).map((bar) => this.note(bar));
    return make("li", { class: "row" }, [picture, make("div", { class: "beside" }, beside)]);
  }

  /** The picture of a row: a window on one printed line. */
  window(row) {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    const line = /** @type {any} */ (this.source.querySelector(`#line-${row.line}`));
    const { top, height } = this.reach(line, row.line);
    const unit = this.level.unit;
    svg.setAttribute("viewBox", [row.x * unit, top, row.width * unit, height].map((n) => Math.round(n)).join(" "));
    svg.setAttribute("aria-hidden", "true");
    const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
    use.setAttribute("href", `#line-${row.line}`);
    svg.append(use);
    return svg;
  }

  /** Top and height of all that is drawn in a line. */
  reach(line, number) {
    const [top, bottom] = this.level.lines[number].map((share) => share * this.level.unit);
    try {
      const box = line.getBBox();
      if (box.height > 0) return { top: Math.min(box.y, top), height: Math.max(box.y + box.height, bottom) - Math.min(box.y, top) };
    } catch {
      // not rendered: the staff and some white
    }
    const white = (LINE_HEIGHT / 4) * this.level.unit;
    return { top: top - white, height: bottom - top + 2 * white };
  }

  bar(bar, row, picture) {
    const box = this.level.boxes[bar];
    const words = this.level.words[bar];
    const number = this.song.bars[bar].n;
    const button = make("button", {
      type: "button", class: "bar", tabindex: "-1",
      "aria-label": [barWords(number), this.sectionAt(number), words.figure && `figure ${words.figure}`,
        words.say].filter(Boolean).join(", "),
      style: { left: percent((box.x - row.x) / row.width), width: percent(box.width / row.width) },
      on: { click: (event) => this.choose(bar, event.shiftKey) },
    }, [make("span", { "aria-hidden": "true", text: number === 0 ? "" : String(number),
      class: bar === row.bars[0] && !row.opens ? "number always" : "number" })]);
    this.cells.push({ bar, button, picture, row });
    return button;
  }

  sectionAt(number) {
    return this.song.road.sections.find((part) => part.from <= number && number <= part.to)?.name ?? "";
  }

  /** The count under a row. Words that would touch are left out: beats stay, silent places go first. */
  count(row) {
    const line = make("div", { class: "count", "aria-hidden": "true" });
    const pixels = Math.max(this.list.clientWidth || this.root.clientWidth, 1) * this.share(row);
    const letter = (LETTER_PX * row.width) / pixels;
    for (const { word, x, bar, quarter } of spaced(this.said(row, pixels), letter)) {
      line.append(make("span", {
        text: word, class: /^\(?\d/.test(word) ? "said beat" : "said", "data-bar": bar, "data-at": quarter,
        style: { left: percent((x - row.x) / row.width) },
      }));
    }
    return line;
  }

  /** How much of the chart's width a row takes. */
  share(row) {
    return Math.min((row.width / this.widest) * this.grow, 1);
  }

  /** What is said under a row so many pixels wide: the beats, or in a long rest without room for them its bars.
   * @returns {{word: string, bar: number, quarter: number, x: number}[]} */
  said(row, pixels) {
    const words = row.bars.flatMap((bar) => this.level.words[bar].count.map(([word, quarter]) => (
      { word, bar, quarter, x: xAt(this.level.boxes[bar], quarter, this.song.bars[bar].quarters) })));
    if (!row.rest || pixels / words.length > REST_PX) return words;
    return row.bars.map((bar) => ({ word: String(this.song.bars[bar].n), bar, quarter: 0, x: this.level.boxes[bar].marks[0][1] }));
  }

  note(bar) {
    const { figure, say } = this.level.words[bar];
    const told = `${barWords(this.song.bars[bar].n)}${say.startsWith("new") ? ", " : ": "}${say}`;
    return make("p", { class: "note", "data-figure": figure }, figure ? [make("b", { text: figure }), ` ${told}`] : [say]);
  }

  /** Shows the place heard; `sought` brings it into sight. @param {number} bar @param {number} quarter @param {boolean} sought */
  show(bar, quarter, sought) {
    const cell = this.cells.find((each) => each.bar === bar);
    if (!cell) return;
    if (bar !== this.now) this.enter(cell, sought);
    const box = this.level.boxes[bar];
    const at = calm() ? this.song.bars[bar].beats.filter((beat) => beat <= quarter + 1e-6).at(-1) ?? 0 : quarter;
    const x = xAt(box, at, this.song.bars[bar].quarters);
    const left = percent((x - cell.row.x) / cell.row.width);
    if (this.needle.style.left !== left) this.needle.style.left = left;
    this.speak(cell.picture, bar, quarter);
  }

  /** Comes back into sight at the next place shown. */
  follow() {
    this.now = -1;
  }

  enter(cell, sought) {
    this.mark("now", (bar) => bar === cell.bar);
    if (this.needle.parentElement !== cell.picture) cell.picture.append(this.needle);
    this.now = cell.bar;
    const figure = this.level.words[cell.bar].figure;
    for (const note of this.root.querySelectorAll(".note")) {
      note.classList.toggle("now", note.getAttribute("data-figure") === figure);
    }
    if (sought) this.reveal(cell.picture);
  }

  /**
   * Brings a row into sight together with the next one: who plays reads ahead. A far row is jumped to and looked at
   * again, since rows that were never in sight have guessed heights.
   * @param {Element} row @param {number} [looks] how often it may still be looked at
   */
  reveal(row, looks = 4) {
    const { top } = row.getBoundingClientRect();
    const next = row.closest(".row")?.nextElementSibling?.querySelector(".picture") ?? row;
    const free = window.innerHeight - (document.getElementById("dock")?.offsetHeight ?? 0);
    if (looks === 0 || (top > 8 && next.getBoundingClientRect().bottom < free - 8)) return;
    const both = next.getBoundingClientRect().bottom - top;
    const above = Math.min(Math.max(free - both - 16, 8), free * READ_FROM);
    const far = looks < 4 || Math.abs(top - above) > 1.5 * window.innerHeight;
    window.scrollBy({ top: top - above, behavior: calm() || far ? "instant" : "smooth" });
    if (far) window.requestAnimationFrame(() => window.requestAnimationFrame(() => this.reveal(row, looks - 1)));
  }

  /** Marks the count word that is said now. */
  speak(picture, bar, quarter) {
    /** @type {Element | null} */
    let said = null;
    for (const word of /** @type {NodeListOf<HTMLElement>} */ (picture.querySelectorAll(".said"))) {
      if (Number(word.dataset.bar) === bar && Number(word.dataset.at) <= quarter + 0.02) said = word;
    }
    if (said === this.spoken) return;
    this.spoken?.classList.remove("now");
    said?.classList.add("now");
    this.spoken = said;
  }

  /** @param {string} name @param {(bar: number) => boolean} holds */
  mark(name, holds) {
    for (const { bar, button } of this.cells) button.classList.toggle(name, holds(bar));
  }

  /** Shows which bars are chosen. @param {number} from @param {number} to @param {boolean} all */
  choice(from, to, all) {
    this.mark("chosen", (bar) => !all && from <= bar && bar <= to);
    this.mark("first", (bar) => !all && bar === from);
    this.mark("last", (bar) => !all && bar === to);
    for (const { bar, button } of this.cells) {
      button.setAttribute("aria-pressed", String(!all && from <= bar && bar <= to));
    }
  }

  /** One bar is in the tab order; arrows walk to the others. @param {number} index */
  tabStop(index) {
    this.cells.forEach(({ button }, at) => button.setAttribute("tabindex", at === index ? "0" : "-1"));
  }

  /** @param {KeyboardEvent} event */
  walk(event) {
    const at = this.cells.findIndex(({ button }) => button === document.activeElement);
    const per = this.cells[at]?.row.bars.length ?? 1;
    const step = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: per, ArrowUp: -per }[event.key];
    if (at < 0 || !step) return;
    const next = Math.min(Math.max(at + step, 0), this.cells.length - 1);
    event.preventDefault();
    event.stopPropagation();
    this.tabStop(next);
    this.cells[next].button.focus();
  }
}
