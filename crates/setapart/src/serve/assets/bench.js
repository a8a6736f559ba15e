// What every page has: one step back and forth, light, units.
// @ts-check
import { post } from "./send.js";
import { showTrouble } from "./page.js";
import { putDocket } from "./docket.js";

/** The piece that the page is about. */
export const piece = document.body.dataset.piece ?? "";

/** @typedef {{revision: number, undo: string | null, redo: string | null, docket?: string}} State */

// Where the route card is wider than the window, the room that is open is in view.
document.querySelector(".route a[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center", behavior: "instant" });

let revision = Number(document.body.dataset.revision ?? 0);
/** @type {((state: any) => void)[]} */
const listeners = [];

/** Where the piece stands, as this page knows it. */
export const standsAt = () => revision;

/** Calls `listener` after undo or redo, or when another window changed the piece. @param {(state: any) => void} listener */
export function onState(listener) {
  listeners.push(listener);
}

/** Takes in where the piece stands now. @param {State} state */
export function stand(state) {
  revision = state.revision;
  document.body.dataset.revision = String(revision);
  step("undo", "Undo", state.undo);
  step("redo", "Redo", state.redo);
  if (state.docket !== undefined) putDocket(state.docket);
}

/** @param {string} id @param {string} word @param {string | null} what */
function step(id, word, what) {
  const button = document.getElementById(id);
  if (!(button instanceof HTMLButtonElement)) return;
  button.disabled = what === null;
  button.title = what === null ? `${word}: nothing` : `${word}: ${what}`;
  button.setAttribute("aria-label", button.title);
}

/** What must be done before a step back: a page that has not sent everything yet sends it. @type {() => Promise<void>} */
let settled = async () => {};

/** @param {() => Promise<void>} wait */
export function beforeSteps(wait) {
  settled = wait;
}

/** The steps that were asked for, one after the other: each starts where the last one led. */
let steps = Promise.resolve();

/** @param {"undo" | "redo"} way */
function goStep(way) {
  steps = steps.then(() => go(way));
  return steps;
}

/** @param {"undo" | "redo"} way */
async function go(way) {
  try {
    await settled();
    const state = await post(`/piece/${piece}/${way}`, { revision });
    stand(state);
    if (listeners.length === 0) location.reload();
    for (const listener of listeners) listener(state);
  } catch (e) {
    showTrouble(e);
  }
}

for (const way of /** @type {const} */ (["undo", "redo"])) {
  document.getElementById(way)?.addEventListener("click", () => goStep(way));
}

document.addEventListener("keydown", (event) => {
  if (piece === "" || !(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const way = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" && !event.shiftKey ? "redo" : null;
  // In a field, the field's own words come first.
  const field = event.target instanceof Element && event.target.closest("input[type=text], textarea");
  if (way === null || field) return;
  event.preventDefault();
  goStep(way);
});

const settings = document.getElementById("settings");
settings?.addEventListener("change", async (event) => {
  const chosen = /** @type {HTMLInputElement} */ (event.target);
  try {
    await post("/settings", { [chosen.name]: chosen.value });
    if (chosen.name === "theme") document.documentElement.dataset.theme = chosen.value;
    else location.reload();
  } catch (e) {
    showTrouble(e);
  }
});

// A click beside the open settings closes them.
document.addEventListener("click", (event) => {
  const open = document.querySelector("details.settings[open]");
  if (open && event.target instanceof Node && !open.contains(event.target)) open.removeAttribute("open");
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") document.querySelector("details.settings[open]")?.removeAttribute("open");
});
