/** The student's own copy of the song: choosing it, and how loud it plays along. */
import { byId } from "./dom.js";
import { marks, openCopy } from "./record.js";

/** The loudness slider's middle is as loud as the drums; its end is this many times as loud. */
const LOUDEST = 4;
/** Longest that a copy may be shifted by hand (milliseconds). */
const MOST_LATER = 2000;

/** @param {any} page what `main.js` offers */
export function copying({ song, player }) {
  byId("copy-fold").hidden = !song.record;
  if (!song.record) return;
  /** @type {import("./record.js").Copy | null} */
  let copy = null;
  let begins = 0;
  byId("copy-file").addEventListener("change", () => choose(byId("copy-file").files[0]));
  byId("copy-on").addEventListener("change", () => player.playAlong(byId("copy-on").checked ? copy : null));
  byId("copy-loud").addEventListener("input", loud);
  byId("copy-later").addEventListener("change", shift);

  /** @param {File | undefined} file */
  async function choose(file) {
    if (!file) return;
    tell(`opening ${file.name} …`);
    try {
      copy = await openCopy(song, file, player.device());
      begins = copy.marks.lines[0];
      Object.assign(byId("copy-later"), { value: "0" });
      byId("copy-on").checked = copy.fits;
      byId("copy-choices").hidden = false;
      tell(copy.says);
    } catch (error) {
      copy = null;
      byId("copy-choices").hidden = true;
      tell(error instanceof Error ? error.message : String(error));
    }
    player.playAlong(copy?.fits ? copy : null);
    loud();
  }

  function loud() {
    const share = Number(byId("copy-loud").value) / 100;
    player.setCopy(LOUDEST * share * share);
    byId("copy-loud-says").textContent = `${byId("copy-loud").value} %`;
  }

  /** By hand, where the ear says so. */
  function shift() {
    const later = Math.min(Math.max(Number(byId("copy-later").value) || 0, -MOST_LATER), MOST_LATER) / 1000;
    if (!copy) return;
    copy.marks = marks(song, begins - song.record.lines[0] + later);
    player.playAlong(byId("copy-on").checked ? copy : null);
  }

  /** @param {string} text */
  function tell(text) {
    byId("copy-says").textContent = text;
  }
}
