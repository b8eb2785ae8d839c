/** Strokes of one piece, chosen place by place as they are counted: "kick 1 2& 3". */
import { say } from "./compose.js";
import { barWords, make } from "./dom.js";

const WAYS = [["", "exactly at these places"], ["ghosted", "ghosted there"], ["accented", "accented there"],
  ["plain", "plain there"], ["flam", "with a flam there"], ["drag", "with a drag there"], ["rimshot", "as rimshots there"],
  ["choked", "choked there"], ["half-open", "half-open there"], ["second", "on the second of its kind there"]];
/** Parts of a beat in the order in which they are offered; the first that shows all that is written is taken. */
const PARTS = ["quarters", "beats", "eighths", "sixteenths", "triplets", "counted"];
/** The least that is offered, so that there is something to add; in 6/8 and the like it is eighths. */
const LEAST = ["sixteenths", "counted"];

export class Strokes {
  /** @param {any} desk see `Forms` */
  constructor(desk) {
    this.desk = desk;
    /** Typed places that are chosen. @type {Set<string>} */
    this.chosen = new Set();
    this.piece = make("select", { on: { change: () => this.take() } });
    this.parts = make("select", { on: { change: () => this.draw() } });
    this.way = make("select", { on: { change: () => this.wayChanged() } }, WAYS.map(([value, text]) => make("option", { value, text })));
    this.spots = make("div", { class: "spots", role: "group", "aria-label": "Places" });
    this.first = make("p", { class: "hint", hidden: true });
    this.root = make("div", { class: "inside" }, [
      make("div", { class: "line" }, [make("label", {}, ["piece ", this.piece]), make("label", {}, ["counted in ", this.parts])]),
      this.first, this.spots,
      make("div", { class: "line" }, [make("label", {}, ["struck ", this.way])]),
      make("div", { class: "line" }, [
        make("button", { type: "button", text: "Write it so", on: { click: () => this.compose() } }),
        make("button", { type: "button", text: "Not struck here", on: { click: () => { this.chosen.clear(); this.draw(); this.compose(); } } })]),
    ]);
  }

  /** Shows the piece that is chosen, as it is written in the first of the chosen bars. */
  show() {
    const { pieces } = this.desk.lesson();
    const here = this.desk.places(this.desk.bars().from);
    const [known, others] = [pieces.filter(([, played]) => played), pieces.filter(([, played]) => !played)];
    const option = ([name]) => make("option", { value: name, text: here[name] ? `${name} (in this bar)` : name });
    const kept = this.piece.value;
    this.piece.replaceChildren(make("optgroup", { label: "heard in this song" }, known.map(option)),
      make("optgroup", { label: "others" }, others.map(option)));
    this.piece.value = kept || Object.keys(here)[0] || "kick";
    const { from, to } = this.desk.bars();
    this.first.hidden = from === to;
    this.first.textContent = `Shown as in ${barWords(from)}; written so in all of them.`;
    this.take();
  }

  /** Takes what is written of the piece, and the coarsest count that shows all of it. */
  take() {
    const bar = this.desk.bars().from;
    const { counts, bars } = this.desk.lesson();
    const offered = counts[bars.find((each) => each.n === bar).key];
    const written = this.desk.places(bar)[this.piece.value] ?? [];
    this.chosen = new Set(written.map(([typed]) => typed));
    this.way.value = "";
    const names = PARTS.filter((name) => offered[name]);
    this.parts.replaceChildren(...names.map((value) => make("option", { value, text: value })));
    const shows = (name) => [...this.chosen].every((typed) => offered[name].some(([each]) => each === typed));
    const least = offered.beats ? "eighths" : LEAST.find((name) => offered[name]) ?? names[0];
    this.parts.value = shows(least) ? least : names.find(shows) ?? least;
    this.draw();
  }

  draw() {
    const bar = this.desk.bars().from;
    const { counts, bars } = this.desk.lesson();
    const offered = counts[bars.find((each) => each.n === bar).key][this.parts.value];
    const written = this.desk.places(bar)[this.piece.value] ?? [];
    const extra = written.filter(([typed]) => !offered.some(([each]) => each === typed));
    this.spots.replaceChildren();
    let beat = this.spots;
    for (const place of [...offered, ...extra]) {
      if (place[2] || beat === this.spots || place === extra[0]) {
        beat = make("div", { class: "beat-of" });
        this.spots.append(beat);
      }
      beat.append(this.spot(place, !extra.includes(place)));
    }
  }

  /** @param {[string, string, boolean]} place @param {boolean} counted whether it stands among places counted in order */
  spot([typed, told], counted) {
    const between = told.startsWith("the ");
    const button = make("button", { type: "button", class: "spot", text: between && counted ? "·" : told, "data-typed": typed,
      "aria-label": between ? told : typed, "aria-pressed": this.chosen.has(typed) ? "true" : "false" });
    button.addEventListener("click", () => {
      if (!this.chosen.delete(typed)) this.chosen.add(typed);
      button.setAttribute("aria-pressed", String(this.chosen.has(typed)));
      this.speak();
    });
    return button;
  }

  /** How it is struck is said of single places: none is chosen yet. */
  wayChanged() {
    if (this.way.value) this.chosen.clear();
    else this.take();
    this.draw();
  }

  /** The places in the order in which they are counted. */
  places() {
    return [...this.spots.querySelectorAll("[aria-pressed=true]")].map((each) => /** @type {HTMLElement} */ (each).dataset.typed ?? "");
  }

  words() {
    return say.strokes(this.desk.scoped(), this.piece.value, this.places(), this.way.value);
  }

  compose() {
    this.desk.compose(this.words());
  }

  /** Shows the words as they come to be, without going to them. */
  speak() {
    this.desk.compose(this.words(), false);
  }
}
