// What is said of the piece as a whole: its name and device, how parts are laid out, places kept free.
// @ts-check
import { byId, element } from "./page.js";
import { lengthField, number } from "./lengths.js";

/** @typedef {{x: number, y: number, w: number, h: number}} KeepOut */

/** A place kept free is so large at first, mm: room for a plaque. */
const FIRST = { w: 60, h: 15 };

export class About {
  /** @param {(edits: any[]) => void} edit */
  constructor(edit) {
    this.edit = edit;
    this.place = byId("about");
    /** The lower left corner of where parts may lie, mm. */
    this.corner = [0, 0];
    /** @type {KeepOut[]} */
    this.keepOuts = [];
    this.list = byId("keep-outs");
    this.name = this.#field("name");
    this.device = this.#field("device");
    this.maker = this.#field("maker");
    this.year = this.#field("year");
    this.nesting = this.#field("nesting");
    this.gap = /** @type {HTMLInputElement} */ (byId("gap"));
    this.style = /** @type {HTMLSelectElement} */ (byId("style"));
    this.spread = /** @type {HTMLSelectElement} */ (byId("spread"));

    this.name.addEventListener("change", () => {
      const name = this.name.value.trim();
      if (says(this.name, name === "" ? "Give it a name." : "")) edit([{ do: "name", name }]);
    });
    for (const field of [this.device, this.maker, this.year]) field.addEventListener("change", () => this.#tellDevice());
    this.nesting.addEventListener("change", () => edit([{ do: "layout", nesting: this.nesting.checked }]));
    this.style.addEventListener("change", () => edit([{ do: "layout", style: this.style.value }]));
    this.spread.addEventListener("change", () => edit([{ do: "layout", spread: this.spread.value }]));
    lengthField(this.gap, Number(this.gap.dataset.mm), (mm) => edit([{ do: "layout", gap_mm: mm }]), { least: 0, most: 100 });
    byId("keep-free").addEventListener("click", () => {
      this.#keep([...this.keepOuts, { x: this.corner[0], y: this.corner[1], ...FIRST }]);
      this.list.querySelector("li:last-child input")?.scrollIntoView({ block: "nearest" });
    });
  }

  /** @param {string} name */
  #field(name) {
    const found = this.place.querySelector(`[name="${name}"]`);
    if (!(found instanceof HTMLInputElement)) throw new Error(`the page lacks ${name}`);
    return found;
  }

  /** A device has a name; where all is empty, none is known. */
  #tellDevice() {
    const text = (/** @type {HTMLInputElement} */ field) => field.value.trim() || null;
    const [name, maker, year] = [text(this.device), text(this.maker), text(this.year)];
    const none = name === null && maker === null && year === null;
    if (says(this.device, name === null && !none ? "Say what the device is called." : "")) {
      this.edit([{ do: "device", device: none ? null : { name, maker, year } }]);
    }
  }

  /** @param {KeepOut[]} all */
  #keep(all) {
    this.edit([{ do: "keep_outs", keep_outs: all }]);
    this.#list(all);
  }

  /** @param {KeepOut[]} all */
  #list(all) {
    this.keepOuts = structuredClone(all);
    this.list.replaceChildren(...all.map((place, k) => {
      const fields = /** @type {[keyof KeepOut, string, number][]} */ ([["x", "From the left", -1000], ["y", "From below", -1000], ["w", "Wide", 1], ["h", "High", 1]]).map(([name, word, least]) => {
        const field = element("input", { class: "length", type: "text", inputmode: "decimal", size: 7, "data-name": name });
        lengthField(field, place[name], (mm) => {
          this.keepOuts[k][name] = mm;
          this.edit([{ do: "keep_outs", keep_outs: structuredClone(this.keepOuts) }]);
        }, { least, most: 2000 });
        return element("label", { class: "inline" }, word, field);
      });
      const away = element("button", { type: "button", "aria-label": `Let place ${k + 1} be used` }, "Let it be used");
      away.addEventListener("click", () => {
        this.#keep(this.keepOuts.filter((_, i) => i !== k));
        byId("keep-free").focus();
      });
      return element("li", {}, ...fields, away);
    }));
  }

  /** Shows what is stored, but in the field that someone types in. @param {import("./board-view.js").Scene & {device: any}} scene */
  show({ name, device, layout, field }) {
    const put = (/** @type {HTMLInputElement | HTMLSelectElement} */ to, /** @type {string} */ text) => {
      if (document.activeElement !== to || to instanceof HTMLSelectElement) to.value = text;
    };
    put(this.name, name);
    put(this.device, device?.name ?? "");
    put(this.maker, device?.maker ?? "");
    put(this.year, device?.year ?? "");
    put(this.gap, number(layout.gap_mm));
    put(this.style, layout.style);
    put(this.spread, layout.spread);
    this.spread.disabled = layout.style !== "exploded";
    // A document that does not say so allows it.
    this.nesting.checked = layout.nesting !== false;
    this.corner = [field[0], field[1]];
    const shown = document.querySelector(".piece-name");
    if (shown instanceof HTMLElement) shown.textContent = shown.title = name;
    document.title = `Board of ${name} · Setapart`;
    if (JSON.stringify(layout.keep_outs) === JSON.stringify(this.keepOuts)) return;
    if (layout.keep_outs.length !== this.keepOuts.length || !this.list.contains(document.activeElement)) this.#list(layout.keep_outs);
  }
}

/** Says at a field what is wrong with it, and whether nothing is. @param {HTMLInputElement} field @param {string} problem */
function says(field, problem) {
  field.setCustomValidity(problem);
  field.toggleAttribute("aria-invalid", problem !== "");
  if (problem !== "") field.reportValidity();
  return problem === "";
}
