/** The lists on the desk: what to check first, what listening noted, corrections, finished products. */
import { barWords, byId, make } from "./dom.js";
import { renew } from "./renew.js";

/** Bars to check that are shown before more are asked for. */
const FIRST = 8;

const FOUND = "Best first: the first one puts most right in the whole song. Listen to it, put it right, let the other bars learn from it.";
const NONE = "Nothing here is in doubt. Look through the chart all the same: ears make mistakes that they do not know of.";
const READ = "This lesson was made from notes: nothing was heard, and nothing is in doubt.";

/** @param {{bar: number, why: string}[]} checks best first @param {boolean} heard from a recording @param {(bar: number) => void} go by number */
export function showChecks(checks, heard, go) {
  const more = byId("checks-more");
  const open = more.getAttribute("aria-expanded") === "true";
  const items = checks.map(({ bar, why }, at) => make("li", { hidden: !open && at >= FIRST, "data-bar": bar }, [
    make("button", { type: "button", on: { click: () => go(bar) } }, [
      make("span", { class: "check", text: `check ${at + 1}` }), " ", make("b", { text: barWords(bar) })]),
    make("span", { text: why })]));
  renew(byId("checks"), items);
  byId("checks-hint").textContent = checks.length ? FOUND : heard ? NONE : READ;
  more.hidden = checks.length <= FIRST;
  more.textContent = open ? "Show fewer" : `Show all ${checks.length}`;
  more.onclick = () => {
    more.setAttribute("aria-expanded", String(!open));
    showChecks(checks, heard, go);
  };
}

/** Marks the bars that are chosen in the list. @param {number} from @param {number} to by number */
export function markChecks(from, to) {
  for (const item of byId("checks").children) {
    const bar = Number(item.dataset.bar);
    if (from <= bar && bar <= to) item.setAttribute("aria-current", "true");
    else item.removeAttribute("aria-current");
  }
}

/** @param {{say: string, words: string}[]} notes @param {(words: string) => void} compose */
export function showNotes(notes, compose) {
  byId("notes-part").hidden = notes.length === 0;
  renew(byId("notes"), notes.map(({ say, words }) => make("li", {}, [
    `${say.slice(0, 1).toUpperCase()}${say.slice(1)}${/[.?!]$/.test(say) ? "" : "."}`,
    ...(words ? [make("button", { type: "button", text: `Count it so: ${words}`, on: { click: () => compose(words) } })] : []),
  ])));
}

const STATE = { applied: "", undone: "taken back", unfit: "does not fit any more" };

/**
 * @param {{n: number, what: string, state: "applied" | "undone" | "unfit", why: string}[]} corrections
 * @param {(n: number, undo: boolean) => void} change
 */
export function showCorrections(corrections, change) {
  const items = [...corrections].reverse().map(({ n, what, state, why }) => make("li", { class: state }, [
    make("b", { text: `${n}.` }), make("span", { class: "what", dir: "auto", text: what }),
    ...(STATE[state] ? [make("span", { class: "state", text: STATE[state] })] : []),
    make("button", { type: "button", text: state === "undone" ? "Apply again" : "Take back",
      "aria-label": `${state === "undone" ? "Apply again" : "Take back"} correction ${n}: ${what}`,
      on: { click: () => change(n, state !== "undone") } }),
    ...(why ? [make("span", { class: "why", text: why })] : [])]));
  renew(byId("corrections"), items.length ? items : [make("li", { text: "None yet. Every correction is kept, and can be taken back." })]);
}

/** Endings of the formats that programs read. */
const FORMATS = /\.(musicxml|mid|mei|csv)$/;

/** @param {{file: string, say: string, what: string}[]} products */
export function showProducts(products) {
  renew(byId("products"), products.filter(({ file }) => !FORMATS.test(file)).map(link));
  renew(byId("formats"), products.filter(({ file }) => FORMATS.test(file)).map(link));
  byId("formats-fold").hidden = !byId("formats").children.length;
}

function link({ file, say, what }) {
  return make("li", {}, [
    make("a", { href: `/made/${file.split("/").map(encodeURIComponent).join("/")}`, target: "_blank", rel: "noopener", text: say }),
    " ", make("small", { text: what })]);
}
