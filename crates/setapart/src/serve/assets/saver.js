// Sends what was done, one request after the other, and keeps what could not be sent.
// @ts-check
import { Trouble, post } from "./send.js";
import { element, showTrouble } from "./page.js";
import { piece, stand, standsAt } from "./bench.js";

/** Under this name the browser keeps what could not be sent, should the window be closed. */
const UNSENT = `setapart unsent ${piece}`;

/** How long steps of one gesture are gathered before they are sent, ms. */
const GATHER = 300;

export class Saver {
  /**
   * @param {HTMLElement} sign  Where it is said whether everything is saved.
   * @param {(answer: any) => void} taken  Hears each answer once nothing waits any more.
   */
  constructor(sign, taken) {
    this.sign = sign;
    this.taken = taken;
    /** @type {{edits: any[], gesture: string | null}[]} */
    this.waiting = [];
    this.sending = false;
    /** @type {ReturnType<typeof setTimeout> | null} */
    this.timer = null;
    /** @type {(() => void)[]} */
    this.bells = [];
    /** Something was refused since the page last showed what is stored. */
    this.astray = false;
    /** What is on its way. @type {{edits: any[], gesture: string | null} | null} */
    this.going = null;
    window.addEventListener("beforeunload", (event) => {
      if (this.idle) return;
      this.#send();
      event.preventDefault();
    });
    window.addEventListener("pagehide", () => this.#remember());
  }

  /** What an earlier window could not send is offered once. */
  offerUnsent() {
    const kept = localStorage.getItem(UNSENT);
    const box = document.getElementById("trouble");
    if (kept === null || !box) return;
    localStorage.removeItem(UNSENT);
    /** @type {{edits: any[], gesture: string | null}[]} */
    const steps = JSON.parse(kept);
    const send = element("button", { type: "button", class: "primary" }, "Do it now"), drop = element("button", { type: "button" }, "Let it go");
    send.addEventListener("click", () => {
      box.hidden = true;
      for (const { edits, gesture } of steps) this.add(edits, gesture);
    });
    drop.addEventListener("click", () => (box.hidden = true));
    const count = steps.length === 1 ? "One step was" : `${steps.length} steps were`;
    box.replaceChildren(
      element("p", {}, element("strong", {}, `${count} done here before and not saved: the app did not answer.`), " Undo takes back what you do not want after all."),
      element("p", { class: "buttons" }, send, drop),
    );
    box.hidden = false;
  }

  /** Keeps what is not sent in the browser; nothing where all is. */
  #remember() {
    const left = this.going ? [this.going, ...this.waiting] : this.waiting;
    if (left.length === 0) localStorage.removeItem(UNSENT);
    else localStorage.setItem(UNSENT, JSON.stringify(left));
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

  async #send() {
    if (this.sending) return;
    const next = this.waiting.shift();
    if (!next) return;
    this.sending = true;
    this.going = next;
    try {
      const answer = await post(`/piece/${piece}/edits`, { base: standsAt(), ...next });
      this.going = null;
      stand(answer);
      if (this.waiting.length === 0) this.#told(answer);
    } catch (e) {
      this.going = null;
      this.#failed(e, next);
      return;
    } finally {
      this.sending = false;
    }
    if (this.waiting.length > 0) this.#send();
    else for (const bell of this.bells.splice(0)) bell();
  }

  /** @param {any} answer */
  #told(answer) {
    this.sign.textContent = "Saved";
    this.taken(this.astray ? null : answer);
    this.astray = false;
  }

  /** @param {unknown} e @param {{edits: any[], gesture: string | null}} next */
  #failed(e, next) {
    if (e instanceof Trouble && e.conflict) {
      this.#choose(e, next);
      return;
    }
    const refused = e instanceof Trouble && (e.status === 422 || e.status === 404);
    this.sign.textContent = "Not saved";
    if (refused) {
      // It will never be taken: the board shows again what is stored. What was done after it may well be taken, and what was
      // typed is shown, so that nobody has to think of it again.
      const typed = next.edits.map((edit) => edit.text).filter((text) => typeof text === "string" && text !== "");
      showTrouble(typed.length === 0 ? e : new Trouble({ problem: e.problem, remedy: `${e.remedy} You had typed: ${typed.join("; ")}` }, e.status));
      this.astray = this.waiting.length > 0;
      if (this.astray) {
        setTimeout(() => this.#send());
        return;
      }
      for (const bell of this.bells.splice(0)) bell();
      this.taken(null);
    } else {
      this.waiting.unshift(next);
      showTrouble(e, () => this.#send());
    }
  }

  /** Another window changed the same thing: whose counts? @param {Trouble} e @param {{edits: any[], gesture: string | null}} next */
  #choose(e, next) {
    this.sign.textContent = "Not saved: choose";
    this.going = next;
    const dialog = element("dialog", { class: "choice", "aria-labelledby": "choice-title" });
    const decide = (/** @type {"mine" | "theirs"} */ prefer) => async () => {
      dialog.close();
      dialog.remove();
      try {
        const answer = await post(`/piece/${piece}/edits`, { base: standsAt(), ...next, prefer });
        this.going = null;
        stand(answer);
        this.#told(answer);
        if (this.waiting.length > 0) this.#send();
      } catch (again) {
        this.#failed(again, next);
      }
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
