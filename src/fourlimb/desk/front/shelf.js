/** The shelf: the lessons in the folder in which the desk was started, and the songs of which one can be made. */
import { ask, tell } from "./api.js";
import { byId, make } from "./dom.js";
import { Work } from "./work.js";

const work = new Work({ state: () => "", changed: show, compose: () => {}, made: show });

await show();
work.follow();
Object.assign(window, { shelf: { work } });

async function show() {
  const { folder, lessons, songs, care } = await ask("/api/shelf");
  byId("where").textContent = `in the folder ${folder}`;
  byId("care").textContent = care;
  byId("lessons").replaceChildren(...lessons.map(({ name, title, says, opens }) => make("li", {}, [
    make("button", { type: "button", text: title, disabled: !opens, on: { click: () => open(name) } }), make("span", { text: `${says}` })])),
  ...(lessons.length ? [] : [make("li", { text: "No lesson lies in this folder yet." })]));
  byId("songs").replaceChildren(...songs.map(({ name, makes }) => make("li", {}, [
    make("b", { dir: "auto", text: name }),
    make("button", { type: "button", text: "Make a lesson of it", "aria-label": `Make a lesson of ${name}`, on: { click: () => order(name) } }),
    make("span", { text: `becomes ${makes}; it takes a few minutes` })])),
  ...(songs.length ? [] : [make("li", { text: "None. Put a recording into this folder to make a lesson of it." })]));
}

/** @param {string} name */
async function open(name) {
  try {
    await tell("/api/open", { name });
    window.location.reload();
  } catch (error) {
    byId("status").textContent = error instanceof Error ? error.message : String(error);
  }
}

/** @param {string} name */
async function order(name) {
  try {
    await tell("/api/make", { name });
  } catch (error) {
    byId("status").textContent = error instanceof Error ? error.message : String(error);
  }
}
