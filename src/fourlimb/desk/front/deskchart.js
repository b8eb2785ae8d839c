/** The chart on the desk: the practice page's, with marks on bars worth checking and on those spoken of. */
import { Chart } from "./chart.js";
import { make } from "./dom.js";

export class DeskChart extends Chart {
  /** @param {any} song @param {HTMLElement} root @param {(bar: number, extend: boolean) => void} choose */
  constructor(song, root, choose) {
    super(song, root, choose);
    /** Rank and reason by bar number. @type {Map<number, {rank: number, why: string}>} */
    this.checks = new Map();
  }

  /** @param {number} bar by index */
  bar(bar, row, picture) {
    const button = super.bar(bar, row, picture);
    const { n, yours } = this.song.bars[bar];
    const check = this.checks.get(n);
    const spoken = [button.getAttribute("aria-label"), yours && "yours", check && `check ${check.rank}: ${check.why}`];
    button.setAttribute("aria-label", spoken.filter(Boolean).join(", "));
    if (check) button.append(make("span", { class: "check", "aria-hidden": "true", text: `check ${check.rank}` }));
    else if (yours) button.append(make("span", { class: "yours", "aria-hidden": "true", text: "yours" }));
    return button;
  }

  /** Puts the focus on a bar, and the bar in sight. @param {number} bar by index @param {boolean} [focus] */
  goTo(bar, focus = true) {
    const at = this.cells.findIndex((cell) => cell.bar === bar);
    if (at < 0) return;
    this.tabStop(at);
    if (focus) this.cells[at].button.focus({ preventScroll: true });
    this.reveal(this.cells[at].picture);
  }

  /** Nothing sounds any more: no place is shown. */
  quiet() {
    this.needle.remove();
    this.mark("now", () => false);
    this.spoken?.classList.remove("now");
    this.spoken = null;
    this.follow();
  }

  /** The row of the page that shows a bar. @param {number} bar by index @returns {Element | null} */
  rowOf(bar) {
    return this.cells.find((cell) => cell.bar === bar)?.picture.closest(".row") ?? null;
  }
}
