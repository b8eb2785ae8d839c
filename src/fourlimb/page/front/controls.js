/** The controls: reads what the student sets, shows what is set. All decisions are `main.js`'s. */
import { byId, make } from "./dom.js";
import { keyboard } from "./keys.js";

/** Narrowest that one bar may become on screen, in pixels, before a row takes fewer bars (judgement). */
const BAR_PX = 150;
/** Narrowest that one place in a bar where something stands may become: a note head at that size is 9 wide (judgement). */
const PLACE_PX = 14;

/** @param {any} page what `main.js` offers */
export function connect(page) {
  const { song, player, kept, chosen } = page;
  levels(page);
  byId("play").addEventListener("click", page.toggle);
  slider("tempo", (value) => page.setPercent(value));
  slider("volume", setVolume);
  byId("slower").addEventListener("click", () => page.setPercent(rung(-1)));
  byId("faster").addEventListener("click", () => page.setPercent(rung(1)));
  byId("all").addEventListener("click", () => { page.wholeSong(); byId("play").focus({ preventScroll: true }); });
  box("repeat", (on) => { chosen.repeat = on; page.changed(); });
  box("count-each", (on) => { chosen.countEach = on; page.changed(); });
  for (const bus of ["hands", "feet", "click"]) box(bus, (on) => mute(bus, !on));
  box("show-count", (on) => byId("chart").classList.toggle("no-count", !on));
  byId("rounds").addEventListener("change", () => {
    const { value } = byId("rounds");
    chosen.rounds = value === "tempo" ? value : Number(value);
    page.changed();
  });
  byId("most").addEventListener("change", () => { chosen.most = Number(byId("most").value); page.changed(); page.draw(); });
  setting("delay", 0, (value) => { player.delay = Math.min(Math.max(Number(value) / 1000 || 0, 0), 0.5); });
  setting("paper", "", (value) => { document.documentElement.dataset.paper = value; });
  keyboard(page, rung);
  notes();
  fold();
  redraw();
  setVolume(Number(byId("volume").value));

  /** @param {number} step @returns {number} percent of the next rung in that direction */
  function rung(step) {
    const percents = song.rungs.map((each) => each.percent);
    const beyond = step > 0 ? percents.filter((each) => each > chosen.percent) : percents.filter((each) => each < chosen.percent).reverse();
    return beyond[0] ?? chosen.percent + 2 * step;
  }

  /** @param {number} value 0 to 100 */
  function setVolume(value) {
    player.volume = value / 100;
    player.mix?.setVolume(player.volume);
    byId("volume-says").textContent = `${value} %`;
  }

  /** @param {string} bus @param {boolean} muted */
  function mute(bus, muted) {
    player.muted[bus] = muted;
    player.mix?.mute(bus, muted);
  }

  /** A setting that only this page's memory keeps. @param {string} id @param {any} usual @param {(value: any) => void} act */
  function setting(id, usual, act) {
    byId(id).value = kept.get(id, usual);
    byId(id).addEventListener("change", () => { kept.set(id, byId(id).value); act(byId(id).value); });
    act(byId(id).value);
  }

  /** The notices: read once, closed, and the pause while sound goes on. */
  function notes() {
    byId("first-use").hidden = kept.get("read", false);
    byId("first-use-read").addEventListener("click", () => { kept.set("read", true); byId("first-use").hidden = true; byId("play").focus(); });
    byId("speak-close").addEventListener("click", () => { byId("speak").hidden = true; });
  }

  /** The ladder stands open where there is room, and as it was left. */
  function fold() {
    byId("ladder-fold").open = kept.get("ladder open", window.innerWidth >= 700);
    byId("ladder-fold").addEventListener("toggle", () => { if (!printing) kept.set("ladder open", byId("ladder-fold").open); });
  }

  /** A row takes as many bars as stay readable; on paper always the printed lines. */
  function redraw() {
    let before = barsInRow();
    new ResizeObserver(() => { if (barsInRow() !== before) { before = barsInRow(); page.draw(); } }).observe(byId("chart"));
    const ladder = byId("ladder-fold");
    let open = ladder.open;
    window.addEventListener("beforeprint", () => { printing = true; open = ladder.open; ladder.open = true; page.draw(); });
    window.addEventListener("afterprint", () => { printing = false; ladder.open = open; page.draw(); });
  }

  function barsInRow() {
    if (printing) return Infinity;
    if (chosen.most) return chosen.most;
    const fit = Math.floor(byId("chart").clientWidth / BAR_PX);
    if (fit >= 4) return Infinity;
    const roomy = Math.floor(byId("chart").clientWidth / (PLACE_PX * places(song.levels[chosen.level].boxes)));
    return Math.max(Math.min(fit, roomy), 1);
  }

  return {
    barsInRow,
    /** Shows what was chosen on the last visit. */
    show() {
      byId("rounds").value = String(chosen.rounds);
      byId("most").value = String(chosen.most);
      byId("count-each").checked = chosen.countEach;
      byId("repeat").checked = chosen.repeat;
    },
    /** @param {boolean} on */
    playing(on) {
      byId("play-word").textContent = on ? "Stop" : "Play";
      document.body.classList.toggle("playing", on);
    },
    /** @param {number} percent */
    tempo(percent) {
      byId("tempo").value = String(percent);
      const rung = song.rungs.find((each) => each.percent === percent); // one tempo, one number: as on the ladder
      const bpm = rung ? rung.bpm : Math.round((song.goal * percent) / 100);
      byId("tempo-says").textContent = `${bpm} · ${percent} %`;
      byId("tempo").setAttribute("aria-valuetext", `${bpm} beats a minute, ${percent} percent of the song`);
    },
    /** @param {boolean} on */
    repeat(on) {
      byId("repeat").checked = on;
    },
  };
}

let printing = false;

/** Places where something stands in a full bar: as many as three of four bars have at most. @param {any[]} boxes */
function places(boxes) {
  const counts = boxes.filter(Boolean).map((box) => box.marks.length).sort((one, other) => one - other);
  return Math.max(counts[Math.floor(counts.length * 0.75)] ?? 1, 1);
}

/** @param {any} page */
function levels({ song, chosen, setLevel }) {
  byId("levels").replaceChildren(...song.order.map((level) => make("label", {}, [
    make("input", { type: "radio", name: "level", value: level, checked: level === chosen.level, on: { change: () => setLevel(level) } }),
    make("span", {}, [make("b", { text: level }), ` ${song.levels[level].says}`]),
  ])));
}

/** @param {string} id @param {(value: number) => void} act */
function slider(id, act) {
  byId(id).addEventListener("input", () => act(Number(byId(id).value)));
}

/** @param {string} id @param {(on: boolean) => void} act */
function box(id, act) {
  byId(id).addEventListener("change", () => act(byId(id).checked));
}
