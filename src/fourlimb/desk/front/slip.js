/** The slip for the bars that are chosen: where they are, what was heard there, what is written and why. */
import { ask } from "./api.js";
import { barWords, byId, make, spanWords } from "./dom.js";

/** Bars whose places are listed; of more only the first are. */
const LISTED = 4;

/** @param {any} lesson @param {number} from @param {number} to by index */
export function showHead(lesson, from, to) {
  const [first, last] = [lesson.bars[from], lesson.bars[to]];
  byId("slip-inside").hidden = false;
  byId("slip-begin").hidden = true;
  const words = spanWords(first.n, last.n);
  byId("slip-title").textContent = `${words.slice(0, 1).toUpperCase()}${words.slice(1)}`;
  const part = lesson.sections.find((each) => each.from <= first.n && first.n <= each.to);
  const check = lesson.checks.findIndex((each) => first.n <= each.bar && each.bar <= last.n);
  const told = [
    part ? `section ${part.name}` : "", first.meter,
    lesson.kind === "audio" ? `begins at ${first.at} of the recording` : `begins at ${first.at}`,
    first.yours && from === to ? "you have spoken of it" : "",
    check >= 0 ? `check ${check + 1}: ${barWords(lesson.checks[check].bar)}: ${lesson.checks[check].why}` : "",
  ];
  byId("slip-where").textContent = told.filter(Boolean).join(" · ");
  byId("from").value = String(first.n);
  byId("to").value = String(last.n);
  for (const id of ["from", "to"]) {
    byId(id).min = String(lesson.bars[0].n);
    byId(id).max = String(lesson.bars[lesson.bars.length - 1].n);
  }
}

let turn = 0;

/** @param {any} lesson @param {string} level @param {any} chart @param {number} from @param {number} to by index */
export async function showSeen(lesson, level, chart, from, to) {
  const mine = ++turn;
  const { figure, say } = chart.words[from];
  byId("figure").textContent = figure ? `Figure ${figure}: ${say}` : say;
  const numbers = lesson.bars.slice(from, Math.min(to + 1, from + LISTED)).map((bar) => bar.n);
  const bars = await Promise.all(numbers.map((bar) => ask("/api/bar", { bar, level })));
  if (mine !== turn) return;
  const more = to - from + 1 - numbers.length;
  byId("seen").replaceChildren(...bars.map(table), ...(more > 0 ? [make("p", { class: "hint", text: `... and ${more} more; choose fewer bars to see them.` })] : []));
}

/** @param {any} bar */
function table({ name, level, sure_percent: sure, rows }) {
  const caption = make("caption", { text: rows.length ? name : `${name}: nothing was heard and nothing is written` });
  if (!rows.length) return make("table", {}, [caption]);
  return make("table", {}, [caption,
    make("thead", {}, [make("tr", {}, [
      make("th", { scope: "col", text: "count" }), make("th", { scope: "col", text: "heard" }),
      make("th", { scope: "col", text: `in ${level}` })])]),
    make("tbody", {}, rows.map((row) => make("tr", {}, [
      make("th", { scope: "row", text: row.place }),
      make("td", { class: "sure", text: heardWords(row.heard, sure) }),
      make("td", {}, [row.written.replace("nothing is written", "nothing"),
        ...row.why.map((why) => make("span", { class: "why", text: why.replace(/ \[[^\]]*\]$/, "") }))])])))]);
}

/** What was heard, shorter: how sure in per cent, with a mark where that is little. @param {string} heard @param {number} sure */
function heardWords(heard, sure) {
  const marked = heard.replace(/(\d+) % sure/g, (_, percent) => `${percent} %${Number(percent) < sure ? " ?" : ""}`);
  return marked.replaceAll("written by the teacher", "yours");
}
