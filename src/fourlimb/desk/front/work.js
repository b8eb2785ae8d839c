/** What is being done, what waits, what could not be done, and what came of the rest. Asks the desk for news. */
import { ask, Refused, tell } from "./api.js";
import { byId, make } from "./dom.js";
import { renew } from "./renew.js";

/** How long to wait before asking a desk again that does not answer. */
const AGAIN_MS = 2000;

const DOING = { correct: "", undo: "take back: ", redo: "apply again: ", files: "charts, sound and page for what you said" };
/** Kinds of work after which the lists of the lesson, or of the shelf, are others. */
const MAKES = ["make", "take", "mark", "film"];

/** @param {{kind: string, words: string}} job */
function said(job) {
  return `${DOING[job.kind] ?? ""}${job.words}`;
}

export class Work {
  /** @param {{state: () => string, changed: () => Promise<void>, compose: (words: string) => void, made?: (answers: any[]) => void}} desk */
  constructor(desk) {
    this.desk = desk;
    this.seen = 0;
    /** Numbers of the answers that were told; what came before the page was opened is not told again.
     * @type {Set<number> | null} */
    this.told = null;
    /** Numbers of what was told as applied, whose files are still to be made. @type {Set<number>} */
    this.applied = new Set();
    this.busy = false;
  }

  /** Asks for news for as long as the page is open. */
  async follow() {
    for (;;) {
      try {
        const known = this.told === null ? "none" : this.desk.state(); // the first answer comes at once
        const news = await ask("/api/news", { seen: this.seen, state: known });
        byId("gone").hidden = true;
        this.seen = news.seen;
        this.show(news);
        if (news.state !== this.desk.state()) await this.desk.changed();
      } catch (error) {
        if (error instanceof Refused) byId("status").textContent = error.message; // it answers, but cannot
        else byId("gone").hidden = false;
        await new Promise((after) => { window.setTimeout(after, AGAIN_MS); });
      }
    }
  }

  /** @param {any} news */
  show({ doing, applied, waiting, answers }) {
    this.busy = !!doing;
    byId("doing").hidden = !doing;
    if (doing) {
      const stage = doing.stage ? ` (${doing.stage.slice(0, 1).toLowerCase()}${doing.stage.slice(1)})` : "";
      byId("doing-says").textContent = `Working: ${said(doing)}${stage}`;
      byId("share").value = doing.share;
      byId("stop").onclick = () => this.away(doing.n);
    }
    byId("stop").hidden = !doing?.stops;
    renew(byId("waiting"), waiting.map((job) => make("li", {}, [
      `Waits its turn: ${said(job)} `,
      make("button", { type: "button", text: "Not yet", "aria-label": `Do not say yet: ${job.words}`,
        on: { click: () => this.back(job) } })])));
    this.refused(answers.filter((answer) => !answer.done));
    this.tell(applied, answers);
  }

  /** What came of it, once: when it is applied, and again only if its files could not be made.
   * @param {any[]} applied @param {any[]} answers */
  tell(applied, answers) {
    const first = this.told === null;
    const told = this.told ?? new Set();
    const fresh = first ? [] : answers.filter(({ n }) => !told.has(n));
    const now = applied.filter(({ n }) => !this.applied.has(n));
    const lines = [...now.map((job) => job.said), ...fresh.filter(({ n, done }) => !done || !this.applied.has(n)).map(
      (answer) => (answer.done ? answer.said : `not done: ${answer.words}\n${answer.said}`))];
    this.told = new Set(answers.map(({ n }) => n));
    this.applied = new Set(applied.map(({ n }) => n));
    if (lines.length) byId("status").textContent = lines.join("\n");
    const made = fresh.filter(({ kind, done }) => done && MAKES.includes(kind));
    if (made.length) this.desk.made?.(made);
  }

  /** What could not be done stays with its words until it is put away. @param {any[]} answers */
  refused(answers) {
    byId("refused-part").hidden = answers.length === 0;
    const known = [...byId("refused").children].map((item) => item.dataset.n).join();
    if (known === answers.map(({ n }) => n).join()) return;
    byId("refused").replaceChildren(...answers.map((answer) => make("li", { "data-n": answer.n }, [
      make("b", { dir: "auto", text: answer.words }), `: ${answer.said} `,
      ...(answer.kind === "correct" ? [make("button", { type: "button", text: "Into the line again",
        "aria-label": `Into the line again: ${answer.words}`, on: { click: () => this.back(answer) } }), " "] : []),
      make("button", { type: "button", text: "Put away", "aria-label": `Put away: ${answer.words}`,
        on: { click: () => this.away(answer.n) } })])));
  }

  /** @param {{n: number, kind: string, words: string}} job */
  async back(job) {
    if (job.kind === "correct") this.desk.compose(job.words);
    await this.away(job.n);
  }

  /** @param {number} n */
  async away(n) {
    try {
      await tell("/api/put-away", { n });
    } catch {
      // gone already, or the desk does not answer, which is told elsewhere
    }
  }
}
