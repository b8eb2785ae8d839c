/** What the page remembers on this computer. A browser may refuse a page from disk its storage: then for this visit. */

/** @param {string} name keeps one song's memory apart from another's */
export function memory(name) {
  /** @type {Record<string, any>} */
  let kept = {};
  try {
    const read = JSON.parse(window.localStorage.getItem(name) ?? "{}");
    if (read && typeof read === "object" && !Array.isArray(read)) kept = read;
  } catch {
    // refused or damaged: start empty
  }
  return {
    /** @param {string} key @param {any} otherwise */
    get: (key, otherwise) => kept[key] ?? otherwise,
    /** @param {string} key @param {any} value @returns {boolean} false when it will be forgotten with the page */
    set(key, value) {
      kept[key] = value;
      try {
        window.localStorage.setItem(name, JSON.stringify(kept));
        return true;
      } catch {
        return false;
      }
    },
  };
}
