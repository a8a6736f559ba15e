// Making what a page shows, and saying in place why something was not done.
// @ts-check
import { Trouble } from "./send.js";

/** Namespace of drawings (SVG 2). */
const SVG = "http://www.w3.org/2000/svg";

/** Says something to people who listen. @param {string} text */
export function say(text) {
  const news = document.getElementById("news");
  if (news) news.textContent = text;
}

/**
 * Shows what went wrong, with a way on. @param {unknown} e @param {(() => void) | null} [again]
 */
export function showTrouble(e, again = null) {
  const box = byId("trouble");
  const trouble = e instanceof Trouble ? e : new Trouble({ problem: String(e), remedy: "Load the page again; what was saved is not lost." }, 0);
  /** @type {HTMLElement[]} */
  const buttons = [];
  if (again) {
    const button = element("button", { type: "button", class: "primary" }, "Try again");
    button.addEventListener("click", () => {
      box.hidden = true;
      again();
    });
    buttons.push(button);
  }
  const close = element("button", { type: "button" }, "Put away");
  close.addEventListener("click", () => (box.hidden = true));
  showNotice(trouble.problem, trouble.remedy, [...buttons, close]);
}

/** Says something that waits for an answer. @param {string} what @param {string} more @param {HTMLElement[]} buttons */
export function showNotice(what, more, buttons) {
  const box = byId("trouble");
  box.replaceChildren(element("p", {}, element("strong", {}, what), " ", more), element("p", { class: "buttons" }, ...buttons));
  box.hidden = false;
}

/**
 * An element with its attributes and content.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name @param {Record<string, string | number | boolean | null>} [attributes] @param {...(Node | string)} content
 * @returns {HTMLElementTagNameMap[K]}
 */
export function element(name, attributes = {}, ...content) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== false) made.setAttribute(key, value === true ? "" : String(value));
  }
  made.append(...content);
  return made;
}

/** The element of that id. @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page lacks ${id}`);
  return found;
}

/**
 * An element of a drawing.
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} name @param {Record<string, string | number>} [attributes] @param {...Node} content @returns {SVGElementTagNameMap[K]}
 */
export function draw(name, attributes = {}, ...content) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  made.append(...content);
  return made;
}
