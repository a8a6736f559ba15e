// The label tied to the chosen part: what it is, where it lies, what can be done with it.
// @ts-check
import { element } from "./page.js";
import { lengthField, said } from "./lengths.js";
import { Drafts } from "./drafts.js";

/** @typedef {import("./board-view.js").View} View */
/**
 * @typedef {{place: (id: string, pose: import("./geometry.js").Pose) => void, turn: (id: string, by: number) => void,
 *   edit: (edits: any[]) => void, choose: (ids: string[]) => void, align: (way: string) => void, put: (id: string) => void,
 *   near: (id: string) => {distance: number, id: string} | null}} Deeds
 */

/** Stand-ins, as they are said. */

export class Label {
  /** @param {HTMLElement} place @param {View} view @param {Deeds} deeds */
  constructor(place, view, deeds) {
    this.place = place;
    this.view = view;
    this.deeds = deeds;
    this.drafts = new Drafts();
    /** What is shown instead of a part: its word in documents, and what it is called. @type {[string, string][]} */
    this.standIns = JSON.parse(place.dataset.standIns ?? "[]");
    /** @type {string} */
    this.shown = "";
  }

  /** Shows what is chosen. @param {string[]} chosen @param {boolean} [anew]  Even while someone types. */
  show(chosen, anew = false) {
    const key = JSON.stringify(chosen);
    // What someone types here is not to be lost to an answer that comes in meanwhile.
    if (!anew && key === this.shown && this.place.contains(document.activeElement)) return;
    this.shown = key;
    const content = chosen.length === 0 ? this.#none() : chosen.length === 1 ? this.#one(chosen[0]) : this.#several(chosen);
    this.place.replaceChildren(...content);
  }

  /** Numbers that change while a part is held. @param {string} id */
  follow(id) {
    const piece = this.view.pieces.get(id);
    if (!piece?.pose || this.shown !== JSON.stringify([id])) return;
    const { pose } = piece;
    const set = (/** @type {string} */ name, /** @type {string} */ value) => {
      const field = this.place.querySelector(`[name=${name}]`);
      if (field instanceof HTMLInputElement && field !== document.activeElement) field.value = value;
    };
    set("x", said(pose.x).split(" ")[0]);
    set("y", said(pose.y).split(" ")[0]);
    set("turn", String(Number(pose.turn.toFixed(1))));
    this.#near(id);
  }

  /** @param {string} id */
  #near(id) {
    const place = this.place.querySelector(".near-words");
    if (!place) return;
    const near = this.deeds.near(id);
    const gap = this.view.scene.layout.gap_mm;
    place.classList.toggle("bad", near !== null && near.distance < gap - 1e-6);
    place.textContent = near === null ? "Alone on the board"
      : near.distance === 0 ? `Lies on ${this.view.pieces.get(near.id)?.part.name}`
      : `${said(Math.floor(near.distance * 100) / 100, 2)} to ${this.view.pieces.get(near.id)?.part.name}`;
  }

  /** @returns {Node[]} */
  #none() {
    const off = [...this.view.pieces.values()].filter((p) => p.pose === null);
    const list = off.map(({ part }) => {
      const button = element("button", { type: "button" }, "Put on");
      button.setAttribute("aria-label", `Put on the board: ${part.name}`);
      button.addEventListener("click", () => this.deeds.put(part.id));
      return element("li", {}, element("span", {}, `${part.number}  ${part.name}`), button);
    });
    const hint = element("p", { class: "soft" }, "Choose a part to see where it lies: press on it, or pick it from the list.");
    return [
      element("h2", {}, "No part chosen"),
      this.#picker(""),
      hint,
      ...(list.length > 0 ? [element("h3", {}, "Not on the board"), element("ul", { class: "off-board" }, ...list)] : []),
    ];
  }

  /** @param {string} id @returns {HTMLElement} */
  #picker(id) {
    const select = element("select", { "aria-label": "Part" });
    if (id === "") select.append(element("option", { value: "" }, "—"));
    for (const { part, pose } of this.view.pieces.values()) {
      select.append(element("option", { value: part.id, selected: part.id === id }, `${part.number}  ${part.name}${pose ? "" : " (not on the board)"}`));
    }
    select.addEventListener("change", () => this.deeds.choose(select.value === "" ? [] : [select.value]));
    return select;
  }

  /** @param {string} id @returns {Node[]} */
  #one(id) {
    const piece = this.view.pieces.get(id);
    if (!piece) return [];
    const { part, pose } = piece;
    const title = element("h2", {}, element("span", { class: "item" }, String(part.number)), part.name);
    if (pose === null) {
      const put = element("button", { type: "button", class: "primary" }, "Put on the board");
      put.addEventListener("click", () => this.deeds.put(id));
      return [title, this.#picker(id), element("p", { class: "buttons" }, put)];
    }
    const field = (/** @type {string} */ name, /** @type {string} */ word) => {
      const input = element("input", { name, type: "text", inputmode: "decimal", size: 7, autocomplete: "off" });
      return { input, label: element("label", {}, word, input) };
    };
    const x = field("x", "x"), y = field("y", "y"), turn = field("turn", "turn °");
    // Where it lies when the field is left, not when the label was made.
    const now = () => piece.pose ?? pose;
    lengthField(x.input, pose.x, (mm) => this.deeds.place(id, { ...now(), x: mm }));
    lengthField(y.input, pose.y, (mm) => this.deeds.place(id, { ...now(), y: mm }));
    turn.input.value = String(Number(pose.turn.toFixed(1)));
    turn.input.addEventListener("change", () => {
      const value = Number(turn.input.value.replace(",", "."));
      const bad = turn.input.value.trim() === "" || !Number.isFinite(value);
      turn.input.setCustomValidity(bad ? "Type degrees, such as 90." : "");
      turn.input.reportValidity();
      if (!bad) this.deeds.turn(id, value - now().turn);
    });
    turn.input.addEventListener("input", () => turn.input.setCustomValidity(""));
    const near = element("p", { class: "near-words" });
    const facts = [
      part.thickness_mm === null ? "height not measured" : `${said(part.thickness_mm)} high`,
      part.group ? `group ${part.group}` : "",
    ].filter((t) => t !== "").join(", ");
    const pin = element("button", { type: "button", "aria-pressed": String(piece.pinned) }, piece.pinned ? "Pinned" : "Pin");
    pin.addEventListener("click", () => this.deeds.edit([{ do: "pin", part: id, pinned: !piece.pinned }]));
    const button = (/** @type {string} */ word, /** @type {() => void} */ act, /** @type {string | null} */ name = null) => {
      const made = element("button", { type: "button", "aria-label": name, title: name }, word);
      made.addEventListener("click", act);
      return made;
    };
    const nodes = [
      title,
      this.#picker(id),
      element("p", { class: "soft" }, facts),
      element("div", { class: "fields" }, x.label, y.label, turn.label),
      near,
      element("p", { class: "buttons" },
        pin,
        button("Turn left", () => this.deeds.turn(id, 90), "Turn left by a quarter"),
        button("Turn right", () => this.deeds.turn(id, -90), "Turn right by a quarter"),
        button("Take off", () => this.deeds.edit([{ do: "take_off", part: id }]), "Take off the board"),
      ),
      this.#caption(id),
      this.#swap(id),
      this.#standIn(id),
    ];
    queueMicrotask(() => this.#near(id));
    return nodes;
  }

  /** @param {string} id */
  #caption(id) {
    const text = element("textarea", { rows: 2, maxlength: 400 });
    const written = this.view.texts.get(id)?.caption.text ?? "";
    const typed = this.drafts.of(id);
    text.value = typed ?? written;
    const note = element("div");
    const enter = () => {
      note.remove();
      this.drafts.entered(id);
      this.deeds.edit([{ do: "write_caption", part: id, text: text.value }]);
    };
    text.addEventListener("input", () => this.drafts.typed(id, text.value));
    text.addEventListener("change", enter);
    if (typed !== null && typed !== written) {
      const keep = element("button", { type: "button" }, "Enter it"), drop = element("button", { type: "button" }, "Let it go");
      keep.addEventListener("click", enter);
      drop.addEventListener("click", () => {
        note.remove();
        this.drafts.entered(id);
        text.value = written;
      });
      note.append(element("p", { class: "soft" }, "Typed before, not entered yet."), element("p", { class: "buttons" }, keep, drop));
    }
    return element("div", {}, element("label", { class: "block" }, "Caption", text), note);
  }

  /** @param {string} id */
  #swap(id) {
    const select = element("select", {}, element("option", { value: "" }, "—"));
    const others = [...this.view.pieces.values()].filter((p) => p.part.id !== id).sort((a, b) => Number(a.pose !== null) - Number(b.pose !== null));
    for (const { part, pose } of others) select.append(element("option", { value: part.id }, `${part.number}  ${part.name}${pose ? "" : " (not on the board)"}`));
    select.addEventListener("change", () => {
      if (select.value === "") return;
      const chosen = select.value;
      const goes = this.view.pieces.get(chosen)?.pose === null;
      this.deeds.edit([{ do: "swap", part: id, with: chosen }]);
      if (goes) this.deeds.choose([chosen]);
    });
    return element("label", { class: "block" }, "Swap places with", select);
  }

  /** @param {string} id */
  #standIn(id) {
    const part = this.view.pieces.get(id)?.part;
    const select = element("select", {}, element("option", { value: "" }, "the part itself"));
    for (const [form, word] of this.standIns) {
      select.append(element("option", { value: form, selected: part?.stand_in?.form === form }, word));
    }
    select.addEventListener("change", () => {
      const why = part?.stand_in?.why ?? "chosen on the board";
      this.deeds.edit([{ do: "stand_in", part: id, stand_in: select.value === "" ? null : { form: select.value, why } }]);
    });
    const cell = part?.hazards.includes("lithium_cell") ? element("p", { class: "caution" }, "A lithium cell is never mounted live, cut or opened: show a stand-in, and hand the cell to a collection point. Local rules come first.") : "";
    return element("div", {}, element("label", { class: "block" }, "Shown is", select), cell);
  }

  /** @param {string[]} chosen @returns {Node[]} */
  #several(chosen) {
    const row = (/** @type {string} */ title, /** @type {[string, string][]} */ ways) => {
      const buttons = ways.map(([way, word]) => {
        const button = element("button", { type: "button" }, word);
        button.addEventListener("click", () => this.deeds.align(way));
        return button;
      });
      return element("div", { role: "group", "aria-label": title }, element("h3", {}, title), element("p", { class: "buttons" }, ...buttons));
    };
    return [
      element("h2", {}, `${chosen.length} parts chosen`),
      element("p", { class: "soft" }, chosen.map((id) => this.view.pieces.get(id)?.part.name).join(", ")),
      row("On one upright line", [["left", "Left edges"], ["middle-x", "Middles"], ["right", "Right edges"]]),
      row("On one level", [["top", "Tops"], ["middle-y", "Middles"], ["foot", "Feet"]]),
      ...(chosen.length > 2 ? [row("Equal gaps", [["across", "Across"], ["upright", "Upright"]])] : []),
      row("Together", [["pin", "Pin"], ["loose", "Let loose"]]),
    ];
  }
}
