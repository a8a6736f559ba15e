// Sheets: the print check, and drawing them.
// @ts-check
import { Trouble } from "./send.js";
import { byId, showTrouble } from "./page.js";
import { piece } from "./bench.js";
import { work } from "./jobs.js";
import { lengthField } from "./lengths.js";

const form = document.getElementById("print");
if (form instanceof HTMLFormElement) start(form);

/** @param {HTMLFormElement} form */
function start(form) {
  const bars = /** @type {HTMLInputElement[]} */ (["x", "y"].map((name) => form.elements.namedItem(name)));
  const printed = bars.map((field) => Number(field.dataset.mm));
  bars.forEach((field, k) => lengthField(field, printed[k], (mm) => (printed[k] = mm), { least: 50, most: 200, digits: 2 }));
  const tool = /** @type {HTMLInputElement} */ (form.elements.namedItem("tool"));
  let toolMm = Number(tool.dataset.mm);
  lengthField(tool, toolMm, (mm) => (toolMm = mm), { least: 0, most: 20, digits: 2 });
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    error.hidden = true;
    const button = /** @type {HTMLButtonElement} */ (byId("draw"));
    button.disabled = true;
    try {
      const said = Object.fromEntries(new FormData(form));
      const { paper, edition, art, silhouettes, language, guide_for } = said;
      const choices = { art, silhouettes, language, guide_for, tool_mm: toolMm };
      const { go } = await work(`/piece/${piece}/sheets`, { paper, edition, bars_mm: printed, choices }, byId("job"));
      location.assign(go);
    } catch (e) {
      if (e instanceof Trouble && e.field !== null) {
        error.textContent = `${e.problem} ${e.remedy}`;
        error.hidden = false;
      } else if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
    } finally {
      button.disabled = false;
    }
  });
}
