/** The desk: gathers its parts, and keeps what is chosen while the lesson changes. */
import { ask, tell } from "./api.js";
import { say as words } from "./compose.js";
import { DeskChart } from "./deskchart.js";
import { byId, make, spanWords } from "./dom.js";
import { Forms } from "./forms.js";
import { Hearing } from "./hear.js";
import { markChecks, showChecks, showCorrections, showNotes, showProducts } from "./lists.js";
import { connectMaking, showMaking } from "./making.js";
import { showPrinting } from "./printing.js";
import { renew } from "./renew.js";
import { Say } from "./say.js";
import { showHead, showSeen } from "./slip.js";
import { Work } from "./work.js";

/** Narrower than this, the slip lies under the row of its bar instead of beside the chart. */
const BESIDE = window.matchMedia("(min-width: 68rem)");

/** Width that a bar needs to be read, in pixels (by looking). */
const BAR_PX = 150;

/** The lesson as the desk gave it last. @type {any} */
let lesson = { state: "", bars: [], checks: [], levels: [], sections: [] };
/** The level's chart. @type {any} */
let drawn = null;
/** Charts of the lesson as it is now, by level, as they were asked for. @type {{state: string, levels: Map<string, Promise<any>>}} */
let charts = { state: "", levels: new Map() };
/** @type {DeskChart | null} */
let chart = null;
/** Bars in a row as the chart lies now. */
let fitted = 0;
/** How often the lesson was asked for: an answer that was overtaken is left alone. */
let loads = 0;
/** Bars by number, so that they are found again in a lesson that has changed; null: none is chosen. */
const chosen = { level: "full", /** @type {number | null} */ from: null, /** @type {number | null} */ to: null };

const line = new Say({
  since: () => lesson.state,
  sent: () => announce("Said. It is being done."),
  composed: (said) => announce(`In the line: ${said}`),
  refused: (error) => { if (/** @type {any} */ (error).status === 409) load(); },
});
const compose = (text, focus = true) => line.compose(text, focus);
const work = new Work({ state: () => lesson.state, changed: load, compose, made: remake });
const hearing = new Hearing({ place: showPlace, stopped: settle });
const forms = new Forms(byId("forms"), {
  lesson: () => lesson, bars: numbers, level: () => chosen.level, places: (bar) => drawn?.places[String(bar)] ?? {}, compose,
});

connect();
connectMaking({ says: (text) => { byId("status").textContent = text; }, sent: announce });
await load().catch(refused);
work.follow();
/** For tests, and for whoever wants to look inside. */
Object.assign(window, { desk: { chosen, hearing, work, line, words, get lesson() { return lesson; }, get chart() { return chart; } } });

/** Shows the lesson as it is now; keeps level, bars, focus and what is written in the line. */
async function load() {
  const before = lesson.state;
  const mine = ++loads;
  const found = await ask("/api/lesson");
  if (mine !== loads) return;
  lesson = found;
  const top = before ? topOf(chosen.from) : null;
  if (before && before !== lesson.state) hearing.forget();
  document.title = `${lesson.title} · the desk`;
  byId("title").textContent = lesson.title;
  byId("facts").textContent = lesson.facts.join(" · ");
  byId("to-shelf").hidden = !lesson.shelf;
  byId("export-care").textContent = lesson.cautions.export;
  byId("volume-care").textContent = lesson.cautions.volume;
  byId("ears-care").textContent = lesson.cautions.start;
  showNotes(lesson.notes, compose);
  showChecks(lesson.checks, lesson.kind === "audio", (bar) => { choose(bar, bar); reveal(bar, false); byId("slip-title").focus(); });
  showCorrections(lesson.corrections, change);
  showProducts(lesson.products);
  showPrinting(byId("print"), lesson.printing, print);
  showMaking(lesson, chosen.level);
  showRecording();
  byId("begin-checks").hidden = byId("next-check").hidden = lesson.checks.length === 0;
  byId("is-model").hidden = lesson.kind !== "audio"; // others are judged again by their sound
  showLevels();
  showRoad();
  const moved = topOf(chosen.from);
  if (top !== null && moved !== null) window.scrollBy({ top: moved - top, behavior: "instant" }); // lists grew above it
  await draw();
}

/** Something was made beside the lesson: it stays as it is, and what there is to open and to mark is listed anew. */
async function remake() {
  const found = await ask("/api/lesson").catch(refused);
  if (found?.state !== lesson.state) return; // the news bring it
  lesson = Object.assign(lesson, { products: found.products, making: found.making });
  showProducts(lesson.products);
  showMaking(lesson, chosen.level);
}

/** The chart of the chosen level. */
async function draw() {
  const level = chosen.level;
  if (charts.state !== lesson.state) charts = { state: lesson.state, levels: new Map() };
  const wanted = charts.levels.get(level) ?? ask("/api/chart", { level });
  charts.levels.set(level, wanted);
  const found = await wanted.catch((error) => { charts.levels.delete(level); throw error; });
  if (level !== chosen.level || found.state !== lesson.state) { // another is asked for, or will be by the news
    charts.state = "";
    return;
  }
  drawn = found;
  byId("chart-of").textContent = `, ${level}: ${lesson.levels.find((each) => each.name === level).says}`;
  picture(level, drawn.svg);
  const song = { order: [level], bars: lesson.bars, levels: { [level]: drawn }, road: { sections: lesson.sections } };
  if (!chart) chart = new DeskChart(song, byId("chart"), pick);
  chart.song = song;
  chart.checks = new Map(lesson.checks.map(({ bar, why }, at) => [bar, { rank: at + 1, why }]));
  lay();
}

/** The rows of the chart, as many bars in each as fit; focus, choice and what is in sight stay as they were. */
function lay() {
  if (!chart) return;
  const focused = chart.cells.find(({ button }) => button === document.activeElement);
  const before = topOf(chosen.from);
  park();
  fitted = inRow();
  chart.draw(chosen.level, fitted);
  if (chosen.from !== null) {
    const [first, last] = [lesson.bars[0].n, lesson.bars[lesson.bars.length - 1].n];
    choose(Math.min(Math.max(chosen.from, first), last), Math.min(Math.max(chosen.to ?? chosen.from, first), last), false);
  }
  if (focused) chart.goTo(Math.min(focused.bar, lesson.bars.length - 1));
  const after = topOf(chosen.from);
  if (before !== null && after !== null) window.scrollBy({ top: after - before, behavior: "instant" });
}

/** Where a bar stands in the window, so that what is looked at stays where it is. @param {number | null} bar by number */
function topOf(bar) {
  const row = bar === null ? null : chart?.rowOf(index(bar));
  return row?.isConnected ? row.getBoundingClientRect().top : null;
}

/** How many bars a row may have to stay readable: as many as were printed, or fewer in a narrow window. */
function inRow() {
  const fit = Math.floor(byId("chart").clientWidth / BAR_PX);
  return fit >= 4 ? Infinity : fit >= 2 ? 2 : 1; // printed lines have four, mostly: three would leave one alone
}

/** The engraver's drawing becomes a template that the chart cuts its rows from. @param {string} level @param {string} svg */
function picture(level, svg) {
  const id = `picture-${level}`;
  document.getElementById(id)?.remove();
  const template = make("template", { id });
  template.content.append(document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true));
  document.body.append(template);
}

/** @param {number} number */
function index(number) {
  return lesson.bars.findIndex((bar) => bar.n === number);
}

function numbers() {
  return { from: chosen.from ?? 1, to: chosen.to ?? chosen.from ?? 1 };
}

/** A bar of the chart was pressed. @param {number} bar by index @param {boolean} extend */
function pick(bar, extend) {
  const { n } = lesson.bars[bar];
  if (extend && chosen.from !== null) choose(Math.min(chosen.from, n), Math.max(chosen.to ?? n, n));
  else if (chosen.from === n && chosen.to === n) byId("slip-title").focus();
  else choose(n, n);
}

/** @param {number} from @param {number} to by number @param {boolean} [told] whether it is announced */
function choose(from, to, told = true) {
  Object.assign(chosen, { from, to });
  const [first, last] = [index(from), index(to)];
  chart?.choice(first, last, false);
  chart?.tabStop(chart.cells.findIndex((cell) => cell.bar === first));
  markChecks(from, to);
  showHead(lesson, first, last);
  place();
  forms.show();
  showSeen(lesson, chosen.level, drawn, first, last).catch(refused);
  if (told) announce(`${spanWords(from, to)} chosen`);
}

/** @param {number} bar by number @param {boolean} focus */
function reveal(bar, focus) {
  if (BESIDE.matches || focus) chart?.goTo(index(bar), focus);
}

/** Under the row of its bar in a narrow window, beside the chart in a wide one. */
function place() {
  const slip = byId("slip");
  const focus = slip.contains(document.activeElement) ? document.activeElement : null;
  const row = chosen.to === null ? null : chart?.rowOf(index(chosen.to));
  if (!BESIDE.matches && row) {
    if (row.nextElementSibling !== slip) row.after(slip);
  } else park();
  /** @type {HTMLElement | null} */ (focus)?.focus({ preventScroll: true });
}

/** The slip in its own place: what is drawn anew must not take it along. */
function park() {
  const home = /** @type {HTMLElement} */ (document.querySelector("main"));
  if (byId("slip").parentElement !== home) home.append(byId("slip"));
}

/** @param {string[]} whats */
async function hear(whats, together = false) {
  const { from, to } = numbers();
  const start = byId("before").checked ? Math.max(index(from) - 1, 0) : index(from);
  const speed = Number(byId("speed").value);
  byId("hear-stop").disabled = false;
  const query = { from: lesson.bars[start].n, to, speed, level: chosen.level, state: lesson.state.slice(0, 8) };
  try {
    await hearing.play(whats, query, { together, click: byId("click").checked, again: () => byId("again").checked });
    byId("line-here").hidden = !whats.includes("recording");
  } catch (error) {
    settle();
    refused(error);
  }
}

/** Where the sound is that reaches the ear. @param {number} bar by number @param {number} share */
function showPlace(bar, share) {
  const at = index(bar);
  if (at >= 0 && chart) chart.show(at, share * lesson.bars[at].quarters, false);
}

function settle() {
  byId("hear-stop").disabled = true;
  byId("line-here").hidden = true;
  chart?.quiet();
}

/** The moment that is heard is where a bar begins. */
function lineHere() {
  const now = hearing.now("recording");
  if (!now) {
    announce("The recording is not heard at this moment: press it while it plays.");
    return;
  }
  const seconds = lesson.bars[index(now.first)].start_s + now.since * (Number(byId("speed").value) / 100);
  hearing.stop();
  forms.begins(Math.max(seconds, 0));
}

function showRecording() {
  const { there, say } = lesson.recording;
  for (const id of ["hear-recording", "hear-one", "hear-both"]) byId(id).hidden = !there;
  byId("no-recording").hidden = there;
  byId("no-recording").textContent = there ? "" : say;
}

function showLevels() {
  renew(byId("levels"), [...lesson.levels].reverse().map(({ name, grade }) => make("label", {}, [
    make("input", { type: "radio", name: "level", value: name, checked: name === chosen.level,
      on: { change: () => { chosen.level = name; draw().catch(refused); } } }),
    make("b", { text: name }), ` grade ${grade.toFixed(1)}`])));
}

function showRoad() {
  renew(byId("road"), lesson.sections.map((part) => make("li", { style: { "--bars": String(part.to - part.from + 1) } }, [
    make("button", { type: "button", class: part.tacet ? "section tacet" : "section",
      on: { click: () => { choose(part.from, part.to); reveal(part.from, false); } } }, [
      make("span", { class: "name", dir: "auto", text: part.name }),
      make("small", { text: spanWords(part.from, part.to) })])])));
}

/** @param {number} n @param {boolean} undo */
async function change(n, undo) {
  try {
    await tell(undo ? "/api/undo" : "/api/redo", { n, since: lesson.state });
    announce(undo ? "It is being taken back." : "It is being applied again.");
  } catch (error) {
    refused(error);
  }
}

/** @param {any} choices */
async function print(choices) {
  if (!Object.keys(choices).length) {
    announce("Nothing is chosen otherwise than it is.");
    return;
  }
  try {
    await tell("/api/print", { choices, since: lesson.state });
    announce("It is being printed so.");
  } catch (error) {
    refused(error);
  }
}

/** What could not be done, in one line. @param {unknown} error */
function refused(error) {
  byId("status").textContent = error instanceof Error ? error.message : String(error);
  if (/** @type {any} */ (error).status === 409) load();
}

/** @param {string} text for those who listen to the screen */
function announce(text) {
  byId("spoken").textContent = text;
}

/** The first bars, with the form that puts beats and bars right. */
function beginBars() {
  const last = lesson.bars.filter((bar) => bar.n >= 1).slice(0, 4).at(-1) ?? lesson.bars[0];
  choose(Math.min(1, last.n), last.n);
  reveal(last.n, false);
  forms.openBeats();
  byId("click").checked = true;
  byId("slip-title").focus();
}

/** The first bar to check after the one that is chosen, in the order of the list. */
function nextCheck() {
  const at = lesson.checks.findIndex(({ bar }) => bar === chosen.from);
  const next = lesson.checks[(at + 1) % Math.max(lesson.checks.length, 1)];
  if (!next) announce("Nothing more is to be checked.");
  else {
    choose(next.bar, next.bar);
    reveal(next.bar, false);
  }
}

function connect() {
  const typed = () => {
    const [from, to] = [Number(byId("from").value), Number(byId("to").value)];
    if (index(from) >= 0 && index(to) >= 0) choose(Math.min(from, to), Math.max(from, to));
  };
  const presses = {
    "begin-bars": beginBars, "begin-checks": () => { nextCheck(); byId("slip-title").focus(); },
    "hear-recording": () => hear(["recording"]), "hear-chart": () => hear(["chart"]),
    "hear-one": () => hear(["recording", "chart"]), "hear-both": () => hear(["recording", "chart"], true),
    "hear-stop": () => hearing.stop(), "line-here": lineHere, "next-check": nextCheck,
    "to-bar": () => chart?.goTo(index(numbers().from)),
    "is-right": () => compose(words.right(numbers())), "is-model": () => compose(words.learn(numbers())),
    "to-shelf": () => tell("/api/shut", {}).then(() => window.location.reload()).catch(refused),
  };
  for (const [id, act] of Object.entries(presses)) byId(id).addEventListener("click", act);
  byId("from").addEventListener("change", typed);
  byId("to").addEventListener("change", typed);
  byId("volume").addEventListener("input", () => hearing.setVolume(Number(byId("volume").value) / 100));
  byId("speed").addEventListener("change", () => hearing.stop());
  BESIDE.addEventListener("change", place);
  new ResizeObserver(() => { if (inRow() !== fitted) lay(); }).observe(byId("chart"));
  byId("slip").addEventListener("keydown", (event) => { if (event.key === "Escape" && chosen.from !== null) chart?.goTo(index(chosen.from)); });
}
