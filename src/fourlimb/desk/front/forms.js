/** The little forms that compose corrections: strokes by counting, other bars, beats and bars, names, levels. */
import { say } from "./compose.js";
import { make } from "./dom.js";
import { Strokes } from "./spots.js";

const METERS = ["4/4", "3/4", "2/4", "6/8", "12/8", "5/4", "7/8", "9/8"];
const FEELS = ["half-time", "double-time", "straight", "swing"];

/** @param {string[]} names @param {string} [label] @returns {HTMLSelectElement} */
export function choice(names, label) {
  return make("select", label ? { "aria-label": label } : {}, names.map((name) => make("option", { value: name, text: name })));
}

/** @param {string} text @param {() => void} act */
export function press(text, act) {
  return make("button", { type: "button", text, on: { click: act } });
}

/** @param {string} title @param {(Node | string)[]} inside @param {boolean} [open] */
function fold(title, inside, open = false) {
  return make("details", { open }, [make("summary", { text: title }), make("div", { class: "inside" }, inside)]);
}

/** @param {(Node | string)[]} inside */
function line(...inside) {
  return make("div", { class: "line" }, inside);
}

/** @param {string} text @param {Node} control */
function label(text, control) {
  return make("label", {}, [`${text} `, control]);
}

export class Forms {
  /**
   * @param {HTMLElement} root
   * @param {{lesson: () => any, bars: () => {from: number, to: number}, level: () => string, places: (bar: number) => any,
   *          compose: (words: string) => void}} desk
   */
  constructor(root, desk) {
    this.desk = { ...desk, scoped: () => ({ ...desk.bars(), level: this.only.checked ? desk.level() : "" }) };
    this.only = make("input", { type: "checkbox" });
    this.onlyWords = make("span");
    this.onlyOf = "";
    this.strokes = new Strokes(this.desk);
    root.className = "forms";
    root.append(make("label", { class: "only" }, [this.only, this.onlyWords]), fold("Strokes, by counting", [this.strokes.root], true), this.alike(), this.beats(), this.names(), this.levels(), examples());
  }

  /**
   * Shows what is written in the bars that are chosen. Where a simpler chart lies open, what is said is of that chart
   * alone unless it is said otherwise: its strokes are fewer than those that were heard.
   */
  show() {
    const level = this.desk.level();
    if (level !== this.onlyOf) this.only.checked = level !== "full";
    this.onlyOf = level;
    this.onlyWords.textContent = `Strokes only in the ${level} chart, not in all levels`;
    this.strokes.show();
    const { from } = this.desk.bars();
    const { bars, pieces } = this.desk.lesson();
    const bar = bars.find((each) => each.n === from);
    const number = (each) => make("option", { value: String(each + 1), text: String(each + 1) });
    this.beat.replaceChildren(...bar.beats.map((_, at) => number(at)));
    for (const [select, first] of [[this.heard, "crash"], [this.really, "ride"]]) {
      const kept = select.value || first;
      select.replaceChildren(...pieces.map(([name]) => make("option", { value: name, text: name })));
      select.value = kept;
    }
    if (!this.seconds.value || this.secondsOf !== from) this.seconds.value = bar.start_s.toFixed(2);
    this.secondsOf = from;
  }

  openBeats() {
    this.beatsFold.open = true;
  }

  /** A bar begins at this second of the recording. @param {number} seconds */
  begins(seconds) {
    this.seconds.value = seconds.toFixed(2);
    this.desk.compose(say.line(seconds));
  }

  alike() {
    const { bars, scoped, compose } = this.desk;
    const other = make("input", { type: "number", min: "1", inputmode: "numeric" });
    this.heard = choice([]);
    this.really = choice([]);
    return fold("Another bar, another sound", [
      line(label("as bar", other), press("Same strokes as that bar", () => compose(say.as(scoped(), other.value || "8")))),
      line(press("No drums here", () => compose(say.silent(scoped())))),
      line(label("the", this.heard), label("is really the", this.really),
        press("In these bars", () => compose(say.is(bars(), this.heard.value, this.really.value))),
        press("Everywhere it sounds alike", () => compose(say.alike(this.heard.value, this.really.value)))),
      make("p", { class: "hint", text: "First in two or three bars, then everywhere: it goes by what you put right." }),
    ]);
  }

  beats() {
    const { bars, compose } = this.desk;
    const meter = choice(METERS);
    const feel = choice(FEELS);
    this.beat = choice([]);
    this.seconds = make("input", { type: "number", min: "0", step: "0.01", inputmode: "decimal" });
    this.secondsOf = NaN;
    this.beatsFold = fold("Beats and bars", [
      make("p", { class: "hint", text: "Put these right first: everything else is counted from them." }),
      line(press("Twice as many beats: tempo x2", () => compose(say.tempo(true))), press("Half as many: tempo /2", () => compose(say.tempo(false)))),
      line(label("meter", meter), press("In these bars", () => compose(say.meter(meter.value, bars()))), press("In the whole song", () => compose(say.meter(meter.value, null)))),
      line(label("beat", this.beat), press("of this bar is the one", () => compose(say.one(bars().from, this.beat.value)))),
      line(label("second", this.seconds), press("A bar begins there", () => compose(say.line(Number(this.seconds.value))))),
      line(label("felt", feel), press("These bars are felt so", () => compose(say.feel(bars(), feel.value)))),
    ]);
    return this.beatsFold;
  }

  names() {
    const { bars, compose } = this.desk;
    const name = make("input", { type: "text", maxlength: "80" });
    const title = make("input", { type: "text", maxlength: "120" });
    return fold("Names", [
      line(label("section", name), press("These bars are called so", () => compose(say.section(bars(), name.value || "chorus")))),
      line(label("title", title), press("The song is called so", () => compose(say.title(title.value || this.desk.lesson().title)))),
    ]);
  }

  levels() {
    const { bars, compose } = this.desk;
    const level = choice(["bones", "steady", "full"]);
    const other = choice(["full", "steady", "bones"]);
    const target = choice(["no 16th kicks", "no ghosts", "no flams", "grade 2", "grade 3", "grade 4", "grade 5", "grade 6"]);
    const made = choice(["full", "steady", "bones"]);
    return fold("Levels", [
      line(label("in", level), label("write these bars as in", other), press("Take them over", () => compose(say.lifted(bars(), level.value, other.value)))),
      line(label("the chart", made), label("with", target), press("Make it so", () => compose(say.aim(made.value, target.value)))),
    ]);
  }
}

/** What can be written besides. */
function examples() {
  const rows = [
    ["bars 9-12: hat every 8th", "a running pattern"],
    ["bar 12: snare roll 1-2", "a roll through beats 1 and 2; also buzz roll, no roll"],
    ["bar 12: choked crash 1; rimshot 2", "how it is struck"],
    ['bars 9-12: words "fer-ry at night"', "a syllable to each place that is struck"],
    ["meter 3+2+2/8", "how a bar of 7/8 is grouped"],
    ["bars 1-8: swing 0.6", "how much it swings"],
  ];
  return fold("What else can be written", [make("dl", { class: "examples" }, rows.flatMap(([words, what]) => [
    make("dt", { text: words }), make("dd", { text: what })]))]);
}
