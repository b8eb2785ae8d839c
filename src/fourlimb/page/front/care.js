/** Looks after ears and hands: counts minutes of sound, of all and of one repeated passage, and speaks up. */

export class Care {
  /** @param {any} cautions @param {(kind: "pause" | "enough") => void} speak */
  constructor(cautions, speak) {
    this.cautions = cautions;
    this.speak = speak;
    this.sounding = 0;
    this.passage = "";
    this.repeated = 0;
  }

  /** So many more seconds have sounded. @param {number} seconds @param {string} passage "" when nothing repeats */
  heard(seconds, passage) {
    this.sounding += seconds;
    this.repeated = passage && passage === this.passage ? this.repeated + seconds : 0;
    this.passage = passage;
    if (this.sounding >= this.cautions.pause_after_min * 60) {
      this.sounding = 0;
      this.speak("pause");
    } else if (this.repeated >= this.cautions.enough_after_min * 60) {
      this.repeated = 0;
      this.speak("enough");
    }
  }
}
