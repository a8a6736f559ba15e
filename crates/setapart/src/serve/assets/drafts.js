// Captions that are being typed: each pause keeps them, so that a closed window or a crash takes nothing along.
// @ts-check
import { post } from "./send.js";
import { piece } from "./bench.js";

/** How long nobody types before the words are kept, ms. */
const PAUSE = 500;

export class Drafts {
  constructor() {
    /** What was typed and not entered, by part. @type {Map<string, string>} */
    this.kept = new Map();
    /** @type {ReturnType<typeof setTimeout> | null} */
    this.timer = null;
  }

  /** What was typed before this page was opened. @param {Record<string, string>} all */
  bring(all) {
    for (const [part, text] of Object.entries(all)) this.kept.set(part, text);
  }

  /** @param {string} part */
  of(part) {
    return this.kept.get(part) ?? null;
  }

  /** @param {string} part @param {string} text */
  typed(part, text) {
    this.kept.set(part, text);
    if (this.timer) clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#send(part, text), PAUSE);
  }

  /** The words were entered, or given up. @param {string} part */
  entered(part) {
    if (this.timer) clearTimeout(this.timer);
    if (this.kept.delete(part)) this.#send(part, null);
  }

  /** Where it fails, the words are still in the field, and entering them tells what is wrong. @param {string} part @param {string | null} text */
  #send(part, text) {
    post(`/piece/${piece}/draft`, { part, text }).catch(() => {});
  }
}
