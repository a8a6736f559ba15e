// Lengths as people see and type them. Everything stored is mm.
// @ts-check

const MM_PER_INCH = 25.4;

/** Whether this page shows inches. */
const inches = () => document.documentElement.dataset.units === "inches";

/** A length with its unit, for reading. @param {number} mm @param {number} [digits] */
export function said(mm, digits) {
  return `${number(mm, digits)} ${inches() ? "in" : "mm"}`;
}

/** A length without its unit. Inches have a digit more than a tenth of a millimetre needs. @param {number} mm @param {number} [digits] */
export function number(mm, digits = 1) {
  const shown = inches() ? (mm / MM_PER_INCH).toFixed(digits + 2) : mm.toFixed(digits);
  return Number(shown) === 0 ? shown.replace("-", "") : shown;
}

/**
 * What was typed, in mm: `12.5`, `12,5`, `12.5 mm`, `0.5 in`, `1/2"`; without a unit, the page's.
 * @param {string} text @returns {number | null}
 */
function typed(text) {
  const found = /^\s*(-?)\s*(?:(\d+(?:[.,]\d*)?|[.,]\d+)(?:\s+(\d+)\s*\/\s*(\d+))?|(\d+)\s*\/\s*(\d+))\s*(mm|cm|in|inch|inches|"|″)?\s*$/i.exec(text);
  if (!found) return null;
  const whole = Number((found[2] ?? "0").replace(",", "."));
  const [over, under] = [found[3] ?? found[5] ?? "0", found[4] ?? found[6] ?? "1"].map(Number);
  const part = over / under;
  if (!Number.isFinite(whole + part)) return null;
  const unit = (found[7] ?? (inches() ? "in" : "mm")).toLowerCase();
  const scale = unit === "mm" ? 1 : unit === "cm" ? 10 : MM_PER_INCH;
  return (found[1] === "-" ? -1 : 1) * (whole + part) * scale;
}

/**
 * Makes a field for a length: shows `mm`, nothing where that is null, hears what is typed, and says in place what is wrong.
 * @param {HTMLInputElement} field @param {number | null} mm @param {(mm: number) => void} heard
 * @param {{least?: number, most?: number, digits?: number, emptied?: () => void}} [limits]  With `emptied` the field may be empty.
 */
export function lengthField(field, mm, heard, { least = -1e4, most = 1e4, digits = 1, emptied } = {}) {
  field.value = mm === null ? "" : number(mm, digits);
  field.addEventListener("change", () => {
    if (emptied && field.value.trim() === "") {
      field.setCustomValidity("");
      field.removeAttribute("aria-invalid");
      emptied();
      return;
    }
    const value = typed(field.value);
    const problem = value === null ? "Type a length, such as 12.5 or 1/2 in."
      : value < least ? `At least ${said(least, digits)}.`
      : value > most ? `At most ${said(most, digits)}.` : "";
    field.setCustomValidity(problem);
    field.toggleAttribute("aria-invalid", problem !== "");
    if (problem !== "" || value === null) {
      field.reportValidity();
      return;
    }
    field.value = number(value, digits);
    heard(value);
  });
  field.addEventListener("input", () => field.setCustomValidity(""));
}
