/** Small help with elements. Text from the song only ever goes in as text. */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name @param {Record<string, any>} [given] attributes; `text`, `on` (listeners) and `style` are special
 * @param {(Node | string)[]} [inside] @returns {HTMLElementTagNameMap[K]}
 */
export function make(name, given = {}, inside = []) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(given)) {
    if (key === "text") element.textContent = value;
    else if (key === "on") for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
    else if (key === "style") for (const [rule, to] of Object.entries(value)) element.style.setProperty(rule, to);
    else if (value !== false && value != null) element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...inside);
  return element;
}

/** The element with this id, which the page's own markup is sure to have. @param {string} id @returns {any} */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no element "${id}"`);
  return found;
}

/** @param {number} share 0 to 1 */
export function percent(share) {
  return `${Math.round(share * 1e5) / 1e3}%`;
}

/** True when the person asked the system for less movement. */
export function calm() {
  return window.matchMedia("(prefers-reduced-motion: reduce)").matches;
}

/** How a bar is called. @param {number} number */
export function barWords(number) {
  return number === 0 ? "pickup" : `bar ${number}`;
}

/** Bars in words; the pickup is no bar. @param {number} from @param {number} to both included */
export function spanWords(from, to) {
  if (from === to) return barWords(from);
  if (from > 0) return `bars ${from}–${to}`;
  return to === 1 ? "pickup, bar 1" : `pickup, bars 1–${to}`;
}
