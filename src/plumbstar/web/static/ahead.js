// What the server's steady clock says, as well as a page can know it: so that a press that was under
// way for half a second is not read half a second late.

const AGE_MS = 30000; // two clocks drift apart by a millisecond or so in this time

/** How far this page's steady clock is ahead of the server's, from what each reading was stamped with. */
export class Ahead {
  /** The least of this span and of the one before it. A word that was long under way makes it seem larger than it is. */
  now = Infinity;
  before = Infinity;
  since = -Infinity;

  /**
   * @param {number} stampMs the server's steady clock when it spoke
   * @param {number} heardMs this page's, when it was heard
   */
  hear(stampMs, heardMs) {
    if (!(stampMs > 0)) return;
    if (heardMs - this.since > AGE_MS) {
      this.before = this.now;
      this.now = Infinity;
      this.since = heardMs;
    }
    this.now = Math.min(this.now, heardMs - stampMs);
  }

  /**
   * The header that tells when a request was sent, by the server's steady clock; none where nothing was heard.
   * @param {number} nowMs
   * @returns {Record<string, string>}
   */
  sent(nowMs) {
    const server = Math.round(nowMs - Math.min(this.now, this.before));
    return Number.isFinite(server) && server > 0 ? { "X-Plumbstar-Sent": String(server) } : {};
  }
}
