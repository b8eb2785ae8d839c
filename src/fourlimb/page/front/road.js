/** The song on one line: sections as wide as they are long, landmarks where they stand; both are places to go to. */
import { make, spanWords } from "./dom.js";

/**
 * @param {any} song @param {HTMLElement} road @param {HTMLElement} marks
 * @param {{section: (from: number, to: number) => void, bar: (bar: number) => void}} go bars by index
 */
export function drawRoad(song, road, marks, go) {
  const index = new Map(song.bars.map((bar, at) => [bar.n, at]));
  const within = (number) => index.get(number) ?? 0;
  road.replaceChildren(...song.road.sections.map((part) => {
    const [from, to] = [within(part.from), within(part.to)];
    const bars = to - from + 1;
    const more = [part.like ? `like ${part.like}` : "", part.tacet ? "drums silent" : ""].filter(Boolean).join(", ");
    return make("li", { style: { "--bars": String(bars) } }, [
      make("button", { type: "button", class: part.tacet ? "section tacet" : "section", "data-from": from, "data-to": to,
        on: { click: () => go.section(from, to) } }, [
        make("span", { class: "name", dir: "auto", text: part.name }),
        make("small", { text: `${spanWords(part.from, part.to)}${more ? `, ${more}` : ""}` }),
      ])]);
  }));
  marks.replaceChildren(...song.road.landmarks.map((mark) => make("li", {}, [
    make("button", { type: "button", class: "plain", on: { click: () => go.bar(within(mark.bar)) } }, [
      make("span", { class: "flag", "aria-hidden": "true", text: "⚑" }), make("b", { text: ` bar ${mark.bar}` }),
      make("span", { dir: "auto", text: ` ${mark.what}` })])])));
}

/** Marks the section that holds a bar. @param {HTMLElement} road @param {number} bar */
export function showSection(road, bar) {
  for (const button of road.querySelectorAll("button")) {
    const inside = Number(button.dataset.from) <= bar && bar <= Number(button.dataset.to);
    if (inside) button.setAttribute("aria-current", "true");
    else button.removeAttribute("aria-current");
  }
}
