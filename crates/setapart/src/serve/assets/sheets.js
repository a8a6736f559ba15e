// Sheets: the print check, and drawing them.
// @ts-check
import { Trouble, byId, showTrouble } from "./send.js";
import { piece } from "./bench.js";
import { work } from "./jobs.js";
import { lengthField } from "./lengths.js";

const form = document.getElementById("print");
if (form instanceof HTMLFormElement) start(form);

/** @param {HTMLFormElement} form */
function start(form) {
  const bars = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input.length")]);
  const printed = bars.map((field) => Number(field.dataset.mm));
  bars.forEach((field, k) => lengthField(field, printed[k], (mm) => (printed[k] = mm), { least: 50, most: 200, digits: 2 }));
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    error.hidden = true;
    const button = /** @type {HTMLButtonElement} */ (byId("draw"));
    button.disabled = true;
    try {
      const { go } = await work(`/piece/${piece}/sheets`, { paper: new FormData(form).get("paper"), art: new FormData(form).get("art"), printed_mm: printed }, byId("job"));
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
