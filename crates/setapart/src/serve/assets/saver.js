// Sends what was done, one request after the other, and keeps what could not be sent.
// @ts-check
import { Trouble, post } from "./send.js";
import { element, showNotice, showTrouble } from "./page.js";
import { piece, stand, standsAt } from "./bench.js";

/** @typedef {{edits: any[], gesture: string | null}} Step */

/**
 * Under names that begin so the browser keeps what could not be sent, should the window be closed: each window under a name
 * of its own, so that none overwrites or forgets what another one keeps.
 */
const UNSENT = `setapart unsent ${piece} `;

/** How long steps of one gesture are gathered before they are sent, ms. */
const GATHER = 300;

export class Saver {
  /**
   * @param {HTMLElement} sign  Where it is said whether everything is saved.
   * @param {(answer: any) => void} taken  Hears each answer once nothing waits any more; `null` where the page is not what is stored.
   */
  constructor(sign, taken) {
    this.sign = sign;
    this.taken = taken;
    /** @type {Step[]} */
    this.waiting = [];
    /** Something is on its way, or waits for a choice. */
    this.sending = false;
    /** @type {ReturnType<typeof setTimeout> | null} */
    this.timer = null;
    /** @type {(() => void)[]} */
    this.bells = [];
    /** Something was refused since the page last showed what is stored. */
    this.astray = false;
    /** What is on its way. @type {Step | null} */
    this.going = null;
    /** The names of what earlier windows kept and this one is to do. @type {string[]} */
    this.redone = [];
    /** The name of what this window kept when it was last left. */
    this.own = "";
    window.addEventListener("beforeunload", (event) => {
      if (this.idle) return;
      this.#send();
      event.preventDefault();
    });
    window.addEventListener("pagehide", () => this.#remember());
    window.addEventListener("pageshow", (event) => event.persisted && this.#comeBack());
    this.#offerUnsent();
  }

  /** What earlier windows could not send is offered; it is kept until it was saved or let go. */
  #offerUnsent() {
    const names = Object.keys(localStorage).filter((name) => name.startsWith(UNSENT)).sort();
    /** @type {Step[]} */
    const steps = names.flatMap((name) => JSON.parse(localStorage.getItem(name) ?? "[]"));
    const box = document.getElementById("trouble");
    if (steps.length === 0 || !box) return;
    const send = element("button", { type: "button", class: "primary" }, "Do it now"), drop = element("button", { type: "button" }, "Let it go");
    send.addEventListener("click", () => {
      box.hidden = true;
      this.redone = names;
      // The page did not do them itself: it shows anew what is stored.
      this.astray = true;
      for (const { edits, gesture } of steps) this.add(edits, gesture);
    });
    drop.addEventListener("click", () => {
      box.hidden = true;
      for (const name of names) localStorage.removeItem(name);
    });
    const count = steps.length === 1 ? "One step was" : `${steps.length} steps were`;
    showNotice(`${count} done here before and not saved: the app did not answer.`, "Undo takes back what you do not want after all.", [send, drop]);
  }

  /** Keeps what is not sent in the browser, in place of what it was to do of earlier windows. */
  #remember() {
    const left = this.going ? [this.going, ...this.waiting] : this.waiting;
    if (left.length > 0) {
      this.own = `${UNSENT}${Date.now().toString(36)} ${Math.random().toString(36).slice(2)}`;
      localStorage.setItem(this.own, JSON.stringify(left));
    }
    this.#forgetRedone();
  }

  /** The browser shows the window again as it was left: what it kept waits here still, unless another window has done it. */
  #comeBack() {
    if (this.own === "") return;
    if (localStorage.getItem(this.own) === null) {
      this.waiting = [];
      location.reload();
    } else localStorage.removeItem(this.own);
    this.own = "";
  }

  #forgetRedone() {
    for (const name of this.redone.splice(0)) localStorage.removeItem(name);
  }

  get idle() {
    return this.waiting.length === 0 && !this.sending;
  }

  /** Adds steps. Those of one gesture follow each other quickly and are undone as one. @param {any[]} edits @param {string | null} gesture */
  add(edits, gesture = null) {
    const last = this.waiting.at(-1);
    // Only the last of several places of one part counts.
    const same = last && gesture !== null && last.gesture === gesture;
    if (same) {
      const done = new Set(edits.map(subject));
      last.edits = last.edits.filter((e) => !done.has(subject(e))).concat(edits);
    } else {
      this.waiting.push({ edits, gesture });
    }
    this.sign.textContent = "Saving…";
    if (this.timer) clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#send(), gesture === null ? 0 : GATHER);
  }

  /** When everything is saved. @returns {Promise<void>} */
  settled() {
    if (this.timer) clearTimeout(this.timer);
    this.#send();
    return this.idle ? Promise.resolve() : new Promise((done) => this.bells.push(done));
  }

  #send() {
    if (this.sending) return;
    const next = this.waiting.shift();
    if (next) void this.#post(next);
  }

  /** @param {Step} step @param {"mine" | "theirs"} [prefer] */
  async #post(step, prefer) {
    this.sending = true;
    this.going = step;
    let answer;
    try {
      answer = await post(`/piece/${piece}/edits`, { base: standsAt(), ...step, prefer });
    } catch (e) {
      this.#failed(e, step);
      return;
    }
    stand(answer);
    this.#ended(answer, "Saved");
  }

  /** A step came to its end: the next one goes, or all is as it is shown. @param {any} answer @param {string} said */
  #ended(answer, said) {
    this.sending = false;
    this.going = null;
    if (this.waiting.length > 0) {
      this.#send();
      return;
    }
    this.#forgetRedone();
    this.sign.textContent = said;
    const shown = this.astray ? null : answer;
    this.astray = false;
    this.taken(shown);
    for (const bell of this.bells.splice(0)) bell();
  }

  /** @param {unknown} e @param {Step} step */
  #failed(e, step) {
    if (e instanceof Trouble && e.conflict) {
      this.#choose(e, step);
      return;
    }
    this.sign.textContent = "Not saved";
    if (e instanceof Trouble && (e.status === 422 || e.status === 404)) {
      // It will never be taken: the page shows again what is stored. What was done after it may well be taken, and what was
      // typed is shown, so that nobody has to think of it again.
      const typed = step.edits.map((edit) => edit.text).filter((text) => typeof text === "string" && text !== "");
      showTrouble(typed.length === 0 ? e : new Trouble({ problem: e.problem, remedy: `${e.remedy} You had typed: ${typed.join("; ")}` }, e.status));
      this.astray = true;
      this.#ended(null, "Not saved");
    } else {
      this.sending = false;
      this.going = null;
      this.waiting.unshift(step);
      showTrouble(e, () => this.#send());
    }
  }

  /** Another window changed the same thing: whose counts? Nothing else is sent before that is said. @param {Trouble} e @param {Step} step */
  #choose(e, step) {
    this.sign.textContent = "Not saved: choose";
    const dialog = element("dialog", { class: "choice", "aria-labelledby": "choice-title" });
    const decide = (/** @type {"mine" | "theirs"} */ prefer) => () => {
      dialog.close();
      dialog.remove();
      void this.#post(step, prefer);
    };
    const mine = element("button", { type: "button", class: "primary" }, "Keep mine");
    const theirs = element("button", { type: "button" }, "Take the other");
    mine.addEventListener("click", decide("mine"));
    theirs.addEventListener("click", decide("theirs"));
    dialog.addEventListener("cancel", (event) => event.preventDefault());
    dialog.append(
      element("h2", { id: "choice-title" }, e.problem),
      element("p", {}, e.remedy),
      element("p", { class: "buttons" }, mine, theirs),
    );
    document.body.append(dialog);
    dialog.showModal();
  }
}

/** What a step is about: of several such steps in one gesture, the last counts. @param {any} edit */
function subject(edit) {
  return `${edit.do} ${edit.part ?? ""}`;
}
