/** The line in which it is said: words to be looked at and changed, whether they are understood, and sending them. */
import { ask, tell } from "./api.js";
import { byId } from "./dom.js";

/** How long typing must rest before the words are read. */
const REST_MS = 350;

/** What the browser keeps the words under until they are said. */
const KEPT = "fourlimb words";
/** Where fingers press, going to the line would bring up the keyboard over everything. */
const TOUCHED = window.matchMedia("(pointer: coarse)");

export class Say {
  /** @param {{since: () => string, sent: () => void, composed: (words: string) => void, refused: (error: unknown) => void}} desk */
  constructor(desk) {
    this.desk = desk;
    this.field = byId("words");
    this.note = byId("understood");
    this.timer = 0;
    this.turn = 0;
    this.field.addEventListener("input", () => this.look());
    this.field.value = window.sessionStorage.getItem(KEPT) ?? ""; // the page was loaded anew
    if (this.field.value) this.look();
    byId("say").addEventListener("submit", (event) => { event.preventDefault(); this.send(); });
  }

  /** Puts words into the line, to be looked at before they are said. @param {string} words @param {boolean} [focus] */
  compose(words, focus = true) {
    this.field.value = words;
    if (focus && !TOUCHED.matches) this.field.focus({ preventScroll: true });
    else if (focus) this.desk.composed(words);
    this.look();
  }

  look() {
    window.clearTimeout(this.timer);
    this.turn += 1;
    this.says("", false);
    window.sessionStorage.setItem(KEPT, this.field.value);
    if (this.field.value.trim()) this.timer = window.setTimeout(() => this.read(this.turn), REST_MS);
  }

  /** @param {number} turn */
  async read(turn) {
    try {
      const { understood, say } = await ask("/api/read", { words: this.field.value });
      if (turn === this.turn) this.says(understood ? "Understood. Enter says it." : say, !understood);
    } catch {
      // the desk does not answer: it is told elsewhere
    }
  }

  /** @param {string} text @param {boolean} no */
  says(text, no) {
    this.note.textContent = text;
    this.note.classList.toggle("no", no);
    if (no) this.field.setAttribute("aria-invalid", "true");
    else this.field.removeAttribute("aria-invalid");
  }

  async send() {
    const words = this.field.value.trim();
    if (!words) {
      this.says("Nothing is said yet: press a button above, or write it as you would count it, like bar 12: kick 1 2& 3.", true);
      return;
    }
    window.clearTimeout(this.timer);
    const turn = ++this.turn;
    try {
      await tell("/api/correct", { words, since: this.desk.since() });
      if (turn === this.turn) {
        this.field.value = "";
        window.sessionStorage.removeItem(KEPT);
      }
      this.says("", false);
      this.desk.sent();
    } catch (error) {
      this.says(error instanceof Error ? error.message : String(error), true);
      this.desk.refused(error);
    }
  }
}
