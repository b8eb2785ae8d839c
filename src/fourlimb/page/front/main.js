/** The practice page: gathers the parts, keeps what is chosen, and draws what is heard. */
import { awake } from "./awake.js";
import { Care } from "./care.js";
import { Chart } from "./chart.js";
import { remember, remembered } from "./choice.js";
import { barWords, byId, spanWords } from "./dom.js";
import { openKit, strike } from "./kit.js";
import { Ladder } from "./ladder.js";
import { memory } from "./memory.js";
import { Mix } from "./mix.js";
import { score } from "./plan.js";
import { Player } from "./player.js";
import { Tape } from "./record.js";
import { due, heardAt, openRun } from "./run.js";
import { drawRoad, showSection } from "./road.js";
import { Sharp, zones } from "./sharp.js";
import { connect } from "./controls.js";
import { copying } from "./copying.js";
import { aligned } from "./align.js";
import { beatAt, stretch, usualRounds } from "./timeline.js";

const song = JSON.parse(byId("data").textContent);
const kept = memory(`fourlimb ${song.id}`);
const player = new Player(song);
const last = song.bars.length - 1;

const chosen = remembered(song, kept);

/** How long a sentence to the student stays. */
const SLIP_MS = 9000;
let slip = 0;
/** When the last picture was drawn, milliseconds; 0 while nothing plays. */
let clock = 0;
/** Level and bar whose words stand in the dock. */
let shown = "";

const chart = new Chart(song, byId("chart"), chooseBar);
const ladder = new Ladder(song, byId("ladder"), kept, {
  play: (percent) => { setPercent(percent); if (!player.playing) start(); },
  enough: () => speak("enough"), say,
});
const care = new Care(song.cautions, speak);
const controls = connect({ song, player, kept, chosen, toggle, start, stop, draw, setLevel, setPercent, changed, wholeSong });
copying({ song, player });
drawRoad(song, byId("road"), byId("landmarks"), { section: (from, to) => choosePassage(from, to), bar: (bar) => chooseBar(bar, false) });
player.onEnd = () => { chosen.start = chosen.from; settle(); };
player.onCut = () => { stop(); say("The sound was cut off, by a call or another program. Press Play to go on from here."); };
controls.show();
setLevel(chosen.level);
setPercent(chosen.percent);
window.addEventListener("pagehide", () => { if (player.playing) { chosen.start = reached(); keep(); } });
document.addEventListener("visibilitychange", () => { awake(false); awake(player.playing); });
/** For tests, and for whoever wants to look inside. */
Object.assign(window, { practice: { song, player, chosen, chart, care, parts: { score, openRun, due, heardAt, strike, openKit, Mix, Sharp, Tape, aligned, zones, stretch } } });

/** @returns {import("./player.js").LevelWish} */
function wish() {
  const { level, percent, from, to, start: begin, repeat, countEach } = chosen;
  const rounds = chosen.rounds === "tempo" ? usualRounds(song.bars, begin, percent, song.count_in) : chosen.rounds;
  return { level, percent, from, to, start: begin, repeat, rounds, countEach };
}

function whole() {
  return chosen.from === 0 && chosen.to === last;
}

function keep() {
  remember(song, kept, chosen);
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
  awake(player.playing);
  chart.follow();
  if (player.playing) window.requestAnimationFrame(frame);
}

function stop() {
  chosen.start = reached();
  player.stop();
  settle();
}

/** The bar to go on from: where the song has come to, or the head of the passage that is repeated. */
function reached() {
  const heard = player.heard();
  if (!whole()) return chosen.from;
  return heard.kind === "bar" ? heard.bar : chosen.start;
}

/** Shows that nothing plays. */
function settle() {
  controls.playing(false);
  awake(false);
  keep();
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
    write("place", "count-in");
    beats(heard.beat, heard.of);
  } else if (heard.kind === "bar") where(heard.bar, heard.quarter);
  window.requestAnimationFrame(frame);
}

/** @param {number} bar @param {number} quarter @param {boolean} sought whether the window may move to it */
function where(bar, quarter, sought = true) {
  chart.show(bar, quarter, sought);
  const { n, beats: starts } = song.bars[bar];
  beats(player.playing ? beatAt(song.bars[bar], quarter) + 1 : 0, starts.length);
  const part = song.road.sections.find((each) => each.from <= n && n <= each.to);
  write("place", `${barWords(n)}${part ? `, ${part.name}` : ""}`);
  if (shown === `${chosen.level} ${bar}`) return;
  shown = `${chosen.level} ${bar}`;
  const { figure, say: words } = song.levels[chosen.level].words[bar];
  write("words", figure ? `Figure ${figure}: ${words}` : words);
  showSection(byId("road"), bar);
}

/** The beat as filled and empty marks: shape, not colour. @param {number} beat from 1, 0 for none @param {number} of */
function beats(beat, of) {
  write("beats", Array.from({ length: of }, (_, at) => (at + 1 === beat ? "●" : "○")).join(""));
}

/** Sixty times a second most words stay as they are: only new ones cost a layout. @param {string} id @param {string} text */
function write(id, text) {
  if (byId(id).textContent !== text) byId(id).textContent = text;
}

/** @param {string} level */
function setLevel(level) {
  chosen.level = level;
  keep();
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
  changed();
}

/** Something about the playing was chosen. */
function changed() {
  keep();
  loop();
  if (player.playing) player.change(wish());
}

function draw() {
  chart.draw(chosen.level, controls.barsInRow());
  where(chosen.start, 0, false); // whoever opens the page or chooses a level is reading there
  chart.choice(chosen.from, chosen.to, whole() && chosen.pending === null);
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
  keep();
  controls.repeat(chosen.repeat);
  passage();
  where(chosen.start, 0);
  if (player.playing) start();
}

function passage() {
  chart.choice(chosen.from, chosen.to, whole());
  loop();
  byId("ladder-of").textContent = `, ${chosen.level}, ${passageWords()}`;
  ladder.show(chosen.level, passageWords());
  ladder.playing(chosen.percent);
}

/** What is repeated, or played once, stands beside the way back to the whole song. */
function loop() {
  byId("loop").hidden = whole();
  byId("loop-says").textContent = `${chosen.repeat ? "repeats" : "only"} ${passageWords()}`;
}

function passageWords() {
  const [from, to] = [song.bars[chosen.from].n, song.bars[chosen.to].n];
  if (whole()) return "whole song";
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
