/** What is made of a lesson beside its charts: takes handed over and marked, films. */
import { hand, tell } from "./api.js";
import { byId, make, spanWords } from "./dom.js";
import { renew } from "./renew.js";

/** @typedef {{takes: {name: string, size: string}[], endings: string[], most: number, no_film: string}} Making */

/** What was shown last. @type {Making | null} */
let shown = null;
/** Name of the take that is chosen. */
let chosen = "";

/** @param {any} lesson @param {string} level the one that lies open */
export function showMaking(lesson, level) {
  const known = shown?.takes.map(({ name }) => name);
  const now = /** @type {Making} */ (lesson.making);
  const fresh = known && now.takes.find(({ name }) => !known.includes(name));
  if (fresh) chosen = fresh.name; // what was just handed over is what is to be marked
  else if (!now.takes.some(({ name }) => name === chosen)) chosen = now.takes[0]?.name ?? "";
  const first = shown === null;
  shown = now;
  byId("take-care").textContent = lesson.cautions.take;
  byId("take-file").accept = [...now.endings, "audio/*"].join(",");
  renew(byId("takes"), now.takes.length ? now.takes.map(({ name, size }) => make("label", {}, [
    make("input", { type: "radio", name: "take", value: name, checked: name === chosen, on: { change: () => { chosen = name; } } }),
    make("b", { dir: "auto", text: name }), make("small", { text: size })]))
    : [make("p", { class: "hint", text: "None yet." })]);
  byId("no-film").hidden = !now.no_film;
  byId("no-film").textContent = now.no_film ? `${now.no_film.slice(0, 1).toUpperCase()}${now.no_film.slice(1)}.` : "";
  byId("film").hidden = !!now.no_film;
  byId("film-song-label").hidden = !lesson.recording.there;
  for (const each of ["mark", "film"]) {
    const bars = lesson.bars;
    for (const end of ["from", "to"]) Object.assign(byId(`${each}-${end}`), { min: String(bars[0]?.n ?? 1), max: String(bars.at(-1)?.n ?? 1) });
    if (first) renew(byId(`${each}-level`), [...lesson.levels].reverse().map(({ name }) => make("option", { text: name, selected: name === level })));
  }
}

/** @param {{says: (text: string) => void, sent: (text: string) => void}} desk */
export function connectMaking({ says, sent }) {
  /** @param {() => Promise<any>} act @param {string} text */
  const asked = async (act, text) => {
    try {
      await act();
      sent(text);
    } catch (error) {
      says(error instanceof Error ? error.message : String(error));
    }
  };
  byId("take-file").addEventListener("change", async () => {
    const file = /** @type {File | undefined} */ (byId("take-file").files[0]);
    if (!file || !shown) return;
    const ending = file.name.slice(file.name.lastIndexOf(".")).toLowerCase();
    if (!shown.endings.includes(ending)) says(`"${file.name}" is no take that can be marked: choose a file of sound or MIDI (${shown.endings.map((each) => each.slice(1)).join(", ")}).`);
    else if (file.size > shown.most) says(`"${file.name}" is too long: at most ${Math.floor(shown.most / 2 ** 20)} MB. Save it as MP3 or FLAC, or put it into the folder takes in the lesson's folder yourself.`);
    else await asked(() => hand(file, ending.slice(1)), "It is being put into the lesson.");
    byId("take-file").value = ""; // the same file can be chosen again
  });
  byId("mark").addEventListener("submit", (event) => {
    event.preventDefault();
    if (!chosen) says("No take is chosen: put one into the lesson first.");
    else if (spanOf("mark", says)) asked(() => tell("/api/mark", { take: chosen, level: byId("mark-level").value, ...spanOf("mark", says) }), "It is being marked.");
  });
  byId("film").addEventListener("submit", (event) => {
    event.preventDefault();
    const song = byId("film-song").checked && !byId("film-song-label").hidden;
    const how = { level: byId("film-level").value, teach: byId("film-how").value === "teach", song };
    if (spanOf("film", says)) asked(() => tell("/api/film", { ...how, ...spanOf("film", says) }), "The film is being made.");
  });
}

/** The bars that are written there, one alone where one is; nulls where none are. @param {string} form @param {(text: string) => void} says */
function spanOf(form, says) {
  const [from, to] = ["from", "to"].map((end) => byId(`${form}-${end}`).value);
  if (!from && !to) return { from: null, to: null };
  const [first, last] = [Number(from || to), Number(to || from)];
  if (first <= last) return { from: first, to: last };
  says(`These are no bars: ${spanWords(last, first)} would be written ${last} to ${first}.`);
  return null;
}
