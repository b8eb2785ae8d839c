/** How the lesson is printed: the choices of `fourlimb chart`, kept in the lesson. */
import { make } from "./dom.js";

const CHOICES = [
  ["paper", "paper", [["a4", "A4"], ["letter", "letter"]]],
  ["landscape", "turned", [[false, "portrait"], [true, "landscape"]]],
  ["size", "size", [[100, "ordinary"], [150, "large, 150 %"], [200, "large, 200 %"]]],
  ["bars", "bars a line", [[0, "as they fit"], [1, "1"], [2, "2"], [3, "3"], [4, "4"], [5, "5"], [6, "6"], [8, "8"]]],
  ["voices", "stems of hands and feet", [["auto", "as it reads best"], ["two", "always apart"], ["one", "always shared"]]],
  ["passages", "passages that return", [["auto", "as they fit"], ["folded", "with repeat signs"], ["written out", "written out"]]],
  ["counting", "counted in", ["num-en", "eastman", "takadimi", "kodaly", "de", "fr", "es", "pt"].map((each) => [each, each])],
];
const SWITCHES = [["count", "the count under the notes"], ["hands", "R and L under the notes"], ["cues", "cue words"],
  ["doubts", "marks where the ears doubt"], ["difficulty", "how hard each bar is"], ["repeat_signs", "signs for a bar as before"],
  ["legend", "where each piece stands"]];

/** How the lesson is printed now. @type {any} */
let now = {};

/** @param {HTMLFormElement} form @param {any} printing as it is @param {(choices: any) => void} change */
export function showPrinting(form, printing, change) {
  now = printing;
  if (form.contains(document.activeElement)) return; // someone is choosing: what is chosen stays
  const read = [];
  /** @param {string} name @param {() => any} value */
  const keep = (name, value) => read.push([name, value]);
  const selects = [...CHOICES, ["key", "where pieces stand", [...(printing.key ? [] : [["", "your own"]]), ...printing.keys.map((each) => [each, each])]]];
  const parts = selects.map(([name, words, options]) => {
    const select = make("select", {}, options.map(([value, text]) => make("option", { text, selected: value === printing[name] })));
    keep(name, () => options[select.selectedIndex][0]);
    return make("label", {}, [`${words} `, select]);
  });
  parts.push(...SWITCHES.map(([name, words]) => {
    const box = make("input", { type: "checkbox", checked: printing[name] });
    keep(name, () => box.checked);
    return make("label", {}, [box, words]);
  }));
  const week = make("input", { type: "number", min: "1", max: "500", value: printing.week });
  keep("week", () => Number(week.value) || 1);
  const rights = make("textarea", { rows: "2" });
  rights.value = printing.rights.join("\n");
  keep("rights", () => rights.value.split("\n").map((each) => each.trim()).filter(Boolean));
  const kit = make("input", { type: "text", maxlength: "400" });
  form.replaceChildren(...parts, make("label", {}, ["week of the practice sheet ", week]),
    make("label", { class: "wide" }, ["lines that name writers, recording and owners", rights]),
    make("label", { class: "wide" }, [`kit and player${printing.kit ? `, now: ${printing.kit}` : ""}; change it in words, like double pedal, no ride, left-handed`, kit]),
    make("button", { type: "submit", text: "Print it so from now on" }));
  form.onsubmit = (event) => {
    event.preventDefault();
    const changed = read.map(([name, value]) => [name, value()]).filter(([name, value]) => (
      JSON.stringify(value) !== JSON.stringify(now[name])));
    const choices = Object.fromEntries(changed);
    if (kit.value.trim()) choices.kit_words = kit.value.trim();
    change(choices);
  };
}
