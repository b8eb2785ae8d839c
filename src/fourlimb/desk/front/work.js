/** What is being done, what waits, what could not be done, and what came of the rest. Asks the desk for news. */
import { ask, Refused, tell } from "./api.js";
import { byId, make } from "./dom.js";

/** How long to wait before asking a desk again that does not answer. */
const AGAIN_MS = 2000;

const DOING = { correct: "", undo: "take back: ", redo: "apply again: ", print: "", make: "" };

export class Work {
  /** @param {{state: () => string, changed: () => Promise<void>, compose: (words: string) => void, made?: () => void}} desk */
  constructor(desk) {
    this.desk = desk;
    this.seen = 0;
    /** Number of the last answer that was told; what came before the page was opened is not told again. */
    this.told = NaN;
    this.busy = false;
  }

  /** Asks for news for as long as the page is open. */
  async follow() {
    for (;;) {
      try {
        const news = await ask("/api/news", { seen: this.seen, state: this.desk.state() });
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
  show({ doing, waiting, answers }) {
    this.busy = !!doing;
    byId("doing").hidden = !doing;
    if (doing) {
      const stage = doing.stage ? ` (${doing.stage.toLowerCase()})` : "";
      byId("doing-says").textContent = `Working: ${DOING[doing.kind]}${doing.words}${stage}`;
      byId("share").value = doing.share;
    }
    byId("waiting").replaceChildren(...waiting.map((job) => make("li", {}, [
      `Waits its turn: ${DOING[job.kind]}${job.words} `,
      make("button", { type: "button", text: "Not yet", "aria-label": `Do not say yet: ${job.words}`,
        on: { click: () => this.back(job) } })])));
    this.refused(answers.filter((answer) => !answer.done));
    const fresh = answers.filter((answer) => answer.n > this.told);
    this.told = Math.max(this.told || 0, ...answers.map((answer) => answer.n));
    if (!fresh.length) return;
    byId("status").textContent = fresh.map(({ done, said, words }) => (done ? said : `not done: ${words}\n${said}`)).join("\n");
    if (fresh.some((answer) => answer.kind === "make" && answer.done)) this.desk.made?.();
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
