/**
 * The practice ladder: one card a rung, three boxes to tick for three clean passes in a row, remembered for each level
 * and passage. A pass that was not clean empties the rung's boxes; after some of them the page says to rest.
 * One rung is in the tab order; arrows walk to the others.
 */
import { make } from "./dom.js";

const BOXES = 3;

export class Ladder {
  /**
   * @param {any} song @param {HTMLElement} root @param {ReturnType<typeof import("./memory.js").memory>} kept
   * @param {{play: (percent: number) => void, enough: () => void, say: (text: string) => void}} act
   */
  constructor(song, root, kept, act) {
    this.song = song;
    this.root = root;
    this.kept = kept;
    this.act = act;
    this.key = "";
    this.failures = 0;
    /** Percent of the rung that the Tab key reaches. */
    this.stop = 0;
    root.addEventListener("focusin", (event) => this.tabStop(percentOf(event.target)));
    root.addEventListener("keydown", (event) => this.walk(event));
  }

  /** Shows the ladder of a level and passage. @param {string} level @param {string} passage as it is said */
  show(level, passage) {
    this.key = `ladder ${level} ${passage}`;
    this.failures = 0;
    this.draw();
  }

  /** @returns {Record<string, number>} clean passes by percent */
  passes() {
    const read = this.kept.get(this.key, {});
    return read && typeof read === "object" ? read : {};
  }

  /** @param {number} percent @param {number} clean */
  set(percent, clean) {
    this.kept.set(this.key, { ...this.passes(), [percent]: clean });
    this.draw(percent);
  }

  /** @param {number} [focus] percent of the rung whose box keeps the focus */
  draw(focus) {
    const passes = this.passes();
    const next = this.song.rungs.find(({ percent }) => (passes[percent] ?? 0) < BOXES);
    const held = document.activeElement?.getAttribute("data-box");
    this.root.replaceChildren(...this.song.rungs.map((rung) => this.rung(rung, passes[rung.percent] ?? 0, rung === next)));
    const here = this.song.rungs.some(({ percent }) => percent === this.stop);
    this.tabStop(here && held ? this.stop : (next ?? this.song.rungs[0])?.percent ?? 0);
    if (focus && held) /** @type {HTMLElement | null} */ (this.root.querySelector(`[data-box="${held}"]`))?.focus();
  }

  rung(rung, clean, next) {
    const { percent, bpm } = rung;
    const done = clean >= BOXES;
    const boxes = Array.from({ length: BOXES }, (_, place) => make("input", {
      type: "checkbox", "data-box": `${percent} ${place}`, "aria-label": `${bpm} a minute, clean pass ${place + 1}`,
      on: { change: (event) => this.ticked(percent, clean, place, event.target.checked) },
    }));
    boxes.forEach((box, place) => { box.checked = place < clean; });
    const play = make("button", { type: "button", class: "rung-play", "data-box": `${percent} play`,
      "aria-label": `practise at ${bpm} a minute, ${percent} percent`, on: { click: () => this.act.play(percent) } },
    [make("b", { text: String(bpm) }), make("small", { text: `${percent} %` })]);
    const again = done ? make("span", { class: "passed", text: "passed" }) : make("button", { type: "button", class: "plain again", "data-box": `${percent} again`, text: "not yet",
      "aria-label": `${bpm} a minute: not clean, start its boxes again`, on: { click: () => this.failed(percent) } });
    return make("li", { class: `rung${done ? " done" : ""}${next ? " next" : ""}`, "data-percent": percent }, [
      play, make("span", { class: "boxes" }, boxes), again]);
  }

  ticked(percent, clean, place, on) {
    this.set(percent, on ? Math.max(clean, place + 1) : place);
    if (!on || place + 1 < BOXES) return;
    this.failures = 0;
    const above = this.song.rungs.find((rung) => rung.percent > percent);
    this.act.say(above ? `Three clean in a row. Next rung: ${above.bpm}.` : "Three clean in a row on the last rung.");
  }

  /** @param {number} percent */
  failed(percent) {
    this.failures += 1;
    this.set(percent, 0);
    if (this.failures >= this.song.cautions.enough_after_failures) {
      this.act.enough();
      return;
    }
    const below = this.song.rungs.filter((rung) => rung.percent < percent).at(-1);
    this.act.say(this.failures >= 2 && below ? `Twice not yet: go down to ${below.bpm}. ${this.song.cautions.new_tempo}`
      : "Change one thing, then try again.");
  }

  /** @param {number} percent */
  tabStop(percent) {
    this.stop = percent;
    for (const control of this.root.querySelectorAll("[data-box]")) {
      control.setAttribute("tabindex", percentOf(control) === percent ? "0" : "-1");
    }
  }

  /** To the same thing on the next rung or the one before. @param {KeyboardEvent} event */
  walk(event) {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const [percent, what] = (document.activeElement?.getAttribute("data-box") ?? "").split(" ");
    const at = this.song.rungs.findIndex((rung) => String(rung.percent) === percent);
    if (!step || at < 0) return;
    event.preventDefault();
    event.stopPropagation();
    const to = this.song.rungs[Math.min(Math.max(at + step, 0), this.song.rungs.length - 1)].percent;
    const same = this.root.querySelector(`[data-box="${to} ${what}"]`) ?? this.root.querySelector(`[data-box="${to} play"]`);
    /** @type {HTMLElement | null} */ (same)?.focus();
  }

  /** Marks the rung that is being played. @param {number} percent */
  playing(percent) {
    for (const rung of this.root.children) {
      rung.classList.toggle("now", Number(rung.getAttribute("data-percent")) === percent);
    }
  }
}

/** Of the rung that a control is on. @param {any} control */
function percentOf(control) {
  return Number((control.getAttribute("data-box") ?? "").split(" ")[0]);
}
