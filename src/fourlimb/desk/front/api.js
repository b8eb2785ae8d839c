/** Asking the desk. What it refuses comes back as one line to show. */

export class Refused extends Error {
  /** @param {number} status @param {string} say */
  constructor(status, say) {
    super(say);
    this.status = status;
  }
}

/** @param {string} path @param {Record<string, string | number>} [query] @returns {Promise<any>} */
export async function ask(path, query = {}) {
  return (await answered(await fetch(address(path, query)))).json();
}

/** @param {string} path @param {Record<string, any>} body @returns {Promise<any>} */
export async function tell(path, body) {
  const sent = { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
  return (await answered(await fetch(path, sent))).json();
}

/** Hands a take to the desk. @param {File} file @param {string} ending its name's, without the dot @returns {Promise<any>} */
export async function hand(file, ending) {
  const kind = file.type.startsWith("audio/") ? file.type : `audio/${ending}`;
  const sent = { method: "POST", headers: { "Content-Type": kind }, body: file };
  return (await answered(await fetch(address("/api/take", { name: file.name }), sent))).json();
}

/** Sound, and where its bars are. @param {Record<string, string | number>} query
 * @returns {Promise<{bytes: ArrayBuffer, places: {bars: [number, number][], end: number, lead: number}}>} */
export async function sound(query) {
  const answer = await answered(await fetch(address("/api/sound", query)));
  return { bytes: await answer.arrayBuffer(), places: JSON.parse(answer.headers.get("Fourlimb-Places") ?? "{}") };
}

/** @param {string} path @param {Record<string, string | number>} query */
function address(path, query) {
  const words = new URLSearchParams(Object.entries(query).map(([name, value]) => [name, String(value)]));
  return `${path}?${words}`;
}

/** @param {Response} answer */
async function answered(answer) {
  if (answer.ok) return answer;
  let say = `the desk could not answer (${answer.status})`;
  try {
    say = (await answer.json()).error ?? say;
  } catch {
    // not ours: the line above stays
  }
  throw new Refused(answer.status, say);
}
