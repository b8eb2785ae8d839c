/** The practice page: gathers the parts, keeps what is chosen, and draws what is heard. */
import { Care } from "./care.js";
import { Chart } from "./chart.js";
import { barWords, byId, spanWords } from "./dom.js";
import { openKit, strike } from "./kit.js";
import { Ladder } from "./ladder.js";
import { memory } from "./memory.js";
import { Mix } from "./mix.js";
import { score } from "./plan.js";
import { Player } from "./player.js";
import { due, heardAt, openRun } from "./run.js";
import { drawRoad, showSection } from "./road.js";
import { connect } from "./controls.js";
import { beatAt } from "./timeline.js";

const song = JSON.parse(byId("data").textContent);
const kept = memory(`fourlimb ${song.id}`);
const player = new Player(song);
const last = song.bars.length - 1;

/** What the student has chosen. `pending` is a first bar whose last bar is not chosen yet. */
const chosen = {
  level: song.order.includes(kept.get("level", "")) ? kept.get("level", "") : song.order[0],
  percent: song.start_percent, from: 0, to: last, start: 0, repeat: false, rounds: 1, countEach: false,
  pending: /** @type {number | null} */ (null), most: 0,
};

/** How long a sentence to the student stays. */
const SLIP_MS = 9000;
let slip = 0;
/** When the last picture was drawn, milliseconds; 0 while nothing plays. */
let clock = 0;

const chart = new Chart(song, byId("chart"), chooseBar);
const ladder = new Ladder(song, byId("ladder"), kept, {
  play: (percent) => { setPercent(percent); if (!player.playing) start(); },
  enough: () => speak("enough"), say,
});
const care = new Care(song.cautions, speak);
const controls = connect({ song, player, kept, chosen, toggle, start, stop, draw, setLevel, setPercent, changed, wholeSong });
drawRoad(song, byId("road"), byId("landmarks"), { section: (from, to) => choosePassage(from, to), bar: (bar) => chooseBar(bar, false) });
player.onEnd = () => { chosen.start = chosen.from; settle(); };
setLevel(chosen.level);
setPercent(chosen.percent);
/** For tests, and for whoever wants to look inside. */
Object.assign(window, { practice: { song, player, chosen, chart, care, parts: { score, openRun, due, heardAt, strike, openKit, Mix } } });

/** @returns {import("./player.js").LevelWish} */
function wish() {
  const { level, percent, from, to, start: begin, repeat, rounds, countEach } = chosen;
  return { level, percent, from, to, start: begin, repeat, rounds, countEach };
}

function toggle() {
  if (player.playing) stop();
  else start();
}

async function start() {
  byId("play").setAttribute("aria-busy", "true");
  try {
    await player.start(wish(), (share) => { byId("place").textContent = `opening the drums ${Math.round(share * 100)} %`; });
  } catch (error) {
    say(`The sound did not start (${error instanceof Error ? error.message : error}). Press Play again or use another browser.`);
  }
  byId("play").removeAttribute("aria-busy");
  controls.playing(player.playing);
  chart.follow();
  if (player.playing) window.requestAnimationFrame(frame);
}

function stop() {
  const heard = player.heard();
  player.stop();
  const whole = chosen.from === 0 && chosen.to === last;
  chosen.start = whole && !chosen.repeat && heard.kind === "bar" ? heard.bar : chosen.from;
  settle();
}

/** Shows that nothing plays. */
function settle() {
  controls.playing(false);
  clock = 0;
  where(chosen.start, 0);
}

/** One picture: where the sound that reaches the ear is. @param {number} now milliseconds */
function frame(now) {
  if (!player.playing) return;
  if (clock) care.heard(Math.min(now - clock, 1000) / 1000, chosen.repeat ? `${chosen.from}-${chosen.to}` : "");
  clock = now;
  const heard = player.heard();
  if (heard.kind === "count") {
    byId("place").textContent = "count-in";
    beats(heard.beat, heard.of);
  } else if (heard.kind === "bar") where(heard.bar, heard.quarter);
  window.requestAnimationFrame(frame);
}

/** @param {number} bar @param {number} quarter @param {boolean} sought whether the window may move to it */
function where(bar, quarter, sought = true) {
  chart.show(bar, quarter, sought);
  const { n, beats: starts } = song.bars[bar];
  beats(player.playing ? beatAt(song.bars[bar], quarter) + 1 : 0, starts.length);
  if (byId("place").dataset.bar === String(bar)) return;
  const part = song.road.sections.find((each) => each.from <= n && n <= each.to);
  byId("place").textContent = `${barWords(n)}${part ? `, ${part.name}` : ""}`;
  const { figure, say: words } = song.levels[chosen.level].words[bar];
  byId("words").textContent = figure ? `Figure ${figure}: ${words}` : "";
  showSection(byId("road"), bar);
}

/** The beat as filled and empty marks: shape, not colour. @param {number} beat from 1, 0 for none @param {number} of */
function beats(beat, of) {
  byId("beats").textContent = Array.from({ length: of }, (_, at) => (at + 1 === beat ? "●" : "○")).join("");
}

/** @param {string} level */
function setLevel(level) {
  chosen.level = level;
  kept.set("level", level);
  draw();
  byId("chart-of").textContent = `, ${level}: ${song.levels[level].says}`;
  passage();
  if (player.playing) player.change(wish());
}

/** @param {number} percent */
function setPercent(percent) {
  chosen.percent = Math.min(Math.max(Math.round(percent), 40), 110);
  controls.tempo(chosen.percent);
  ladder.playing(chosen.percent);
  if (player.playing) player.change(wish());
}

/** Something else about the playing was chosen. */
function changed() {
  if (player.playing) player.change(wish());
}

function draw() {
  chart.draw(chosen.level, controls.barsInRow());
  where(chosen.start, 0, false); // whoever opens the page or chooses a level is reading there
  chart.choice(chosen.from, chosen.to, chosen.from === 0 && chosen.to === last && chosen.pending === null);
}

/** @param {number} bar @param {boolean} extend */
function chooseBar(bar, extend) {
  const first = chosen.pending ?? (extend ? chosen.start : null);
  if (first !== null) {
    choosePassage(Math.min(first, bar), Math.max(first, bar));
    return;
  }
  Object.assign(chosen, { from: 0, to: last, start: bar, pending: bar, repeat: false });
  again();
  chart.choice(bar, bar, false);
  say(`From ${barWords(song.bars[bar].n)}. Choose the last bar of a passage to repeat it, or play from here.`);
}

/** @param {number} from @param {number} to both included, by index */
function choosePassage(from, to) {
  Object.assign(chosen, { from, to, start: from, pending: null, repeat: true });
  again();
  say(`Repeating ${passageWords()}.`);
}

function wholeSong() {
  Object.assign(chosen, { from: 0, to: last, start: 0, pending: null, repeat: false });
  again();
  say("The whole song.");
}

/** The bars that are to sound have changed. */
function again() {
  controls.repeat(chosen.repeat);
  passage();
  where(chosen.start, 0);
  if (player.playing) start();
}

function passage() {
  chart.choice(chosen.from, chosen.to, chosen.from === 0 && chosen.to === last);
  byId("ladder-of").textContent = `, ${chosen.level}, ${passageWords()}`;
  ladder.show(chosen.level, passageWords());
  ladder.playing(chosen.percent);
}

function passageWords() {
  const [from, to] = [song.bars[chosen.from].n, song.bars[chosen.to].n];
  if (chosen.from === 0 && chosen.to === last) return "whole song";
  return spanWords(from, to);
}

/** @param {string} text */
function say(text) {
  byId("status").textContent = text;
  window.clearTimeout(slip);
  slip = window.setTimeout(() => { byId("status").textContent = ""; }, SLIP_MS);
}


/** @param {"pause" | "enough"} kind */
function speak(kind) {
  const { pause, rest, enough, pain } = song.cautions;
  byId("speak-text").textContent = kind === "pause" ? `${pause} ${rest}` : `${enough} ${pain}`;
  byId("speak").hidden = false;
}
