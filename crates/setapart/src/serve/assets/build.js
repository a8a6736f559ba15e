// Build: what is decided, and working the build out.
// @ts-check
import { Trouble } from "./send.js";
import { byId, showTrouble } from "./page.js";
import { beforeSteps, piece } from "./bench.js";
import { work } from "./jobs.js";
import { lengthField } from "./lengths.js";
import { Saver } from "./saver.js";

const form = document.getElementById("choices");
if (form instanceof HTMLFormElement) start(form);
document.body.dataset.ready = "";

/** @param {HTMLFormElement} form */
function start(form) {
  const choices = JSON.parse(form.dataset.choices ?? "{}");
  /** What is known of the moulding so far. @type {Record<string, unknown>} */
  let moulding = { ...choices.moulding };
  const saver = new Saver(byId("saved"), (answer) => {
    if (answer === null) location.reload();
    else byId("stale").hidden = false;
  });
  beforeSteps(() => saver.settled());
  form.addEventListener("submit", (event) => event.preventDefault());

  for (const field of form.querySelectorAll("[data-path]")) {
    if (!(field instanceof HTMLInputElement || field instanceof HTMLSelectElement)) continue;
    const path = field.dataset.path ?? "";
    if (field instanceof HTMLInputElement && field.dataset.as === "length") {
      const { mm } = field.dataset;
      // An empty field is what nobody decided.
      lengthField(field, mm === undefined ? null : Number(mm), (v) => decide(path, v), { least: 0, most: 500, emptied: () => decide(path, undefined) });
      continue;
    }
    field.addEventListener("change", () => heard(field, path));
  }

  /** @param {HTMLInputElement | HTMLSelectElement} field @param {string} path */
  function heard(field, path) {
    const text = field.value.trim();
    if (field instanceof HTMLSelectElement) {
      decide(path, text === "" ? undefined : text);
    } else if (field.dataset.as === "flag") {
      decide(path, field.checked ? true : undefined);
    } else if (field.dataset.as === "member") {
      const rest = (choices[path] ?? []).filter((/** @type {string} */ v) => v !== text);
      const all = field.checked ? [...rest, text].sort() : rest;
      decide(path, all.length === 0 ? undefined : all);
    } else {
      const value = Number(text.replace(",", "."));
      const bad = text !== "" && !Number.isFinite(value);
      field.setCustomValidity(bad ? "Type a number, or leave it empty." : "");
      field.toggleAttribute("aria-invalid", bad);
      if (bad) field.reportValidity();
      else decide(path, text === "" ? undefined : value);
    }
  }

  /** @param {string} path @param {unknown} value */
  function decide(path, value) {
    const [group, name] = [path.slice(0, path.indexOf(".")), path.slice(path.indexOf(".") + 1)];
    if (path.includes(".")) {
      const all = { ...(group === "moulding" ? moulding : choices[group]) };
      if (value === undefined) delete all[name];
      else all[name] = value;
      if (group === "moulding") {
        moulding = all;
        // A moulding is known when all of it is.
        if (Object.keys(all).length === 3) choices.moulding = all;
        else delete choices.moulding;
      } else if (Object.keys(all).length === 0) delete choices[group];
      else choices[group] = all;
    } else if (value === undefined) delete choices[path];
    else choices[path] = value;
    saver.add([{ do: "choose", choices: structuredClone(choices) }]);
  }

  const button = byId("work-out");
  if (!(button instanceof HTMLButtonElement)) return;
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await saver.settled();
      await work(`/piece/${piece}/build`, {}, byId("job"));
      location.reload();
    } catch (e) {
      if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
    } finally {
      button.disabled = false;
    }
  });
}
