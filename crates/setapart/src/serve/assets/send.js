// Asking the app for something, and saying in place why it was not done.
// @ts-check

/** Why a request was not done. */
export class Trouble extends Error {
  /** @param {{problem: string, remedy: string, field?: string | null, conflict?: boolean, now?: any}} said @param {number} status */
  constructor(said, status) {
    super(said.problem);
    this.problem = said.problem;
    this.remedy = said.remedy;
    this.field = said.field ?? null;
    this.conflict = said.conflict === true;
    this.now = said.now;
    this.status = status;
  }
}

/**
 * Sends data, or nothing, and hears the answer.
 * @param {string} url @param {unknown} [data] @param {{signal?: AbortSignal}} [how] @returns {Promise<any>}
 */
export async function post(url, data = {}, how = {}) {
  return hear(fetch(url, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(data),
    signal: how.signal,
  }));
}

/** @param {string} url @returns {Promise<any>} */
export async function ask(url) {
  return hear(fetch(url, { headers: { accept: "application/json" } }));
}

/** @param {Promise<Response>} request */
export async function hear(request) {
  let response;
  try {
    response = await request;
  } catch (e) {
    if (e instanceof DOMException && e.name === "AbortError") throw e;
    throw new Trouble({
      problem: "The app does not answer.",
      remedy: "Look whether it still runs (setapart serve), then try again. What you did is kept on this page.",
    }, 0);
  }
  const said = await response.json().catch(() => ({}));
  if (!response.ok) {
    throw new Trouble({ problem: said.problem ?? `The app answered ${response.status}.`, remedy: said.remedy ?? "Try again.", ...said }, response.status);
  }
  return said;
}

/** Largest photo that the app takes, bytes. */
const MOST_PHOTO = 64 * 2 ** 20;

/**
 * Sends a photo; one that would be refused for its size is not sent at all.
 * @param {string} url @param {File} file @returns {Promise<any>}
 */
export async function sendPhoto(url, file) {
  if (file.size > MOST_PHOTO) throw new Trouble({ problem: "This photo is larger than 64 MB, the limit here.", remedy: "Save it smaller, and bring it in again." }, 413);
  return hear(fetch(url, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file }));
}

/** Says something to people who listen. @param {string} text */
export function say(text) {
  const news = document.getElementById("news");
  if (news) news.textContent = text;
}

/**
 * Shows what went wrong, with a way on. @param {unknown} e @param {(() => void) | null} [again]
 */
export function showTrouble(e, again = null) {
  const box = document.getElementById("trouble");
  if (!box || (e instanceof DOMException && e.name === "AbortError")) return;
  const trouble = e instanceof Trouble ? e : new Trouble({ problem: String(e), remedy: "Load the page again; what was saved is not lost." }, 0);
  const words = element("p", {}, element("strong", {}, trouble.problem), " ", trouble.remedy);
  const buttons = element("p", { class: "buttons" });
  if (again) {
    const button = element("button", { type: "button", class: "primary" }, "Try again");
    button.addEventListener("click", () => {
      box.hidden = true;
      again();
    });
    buttons.append(button);
  }
  const close = element("button", { type: "button" }, "Put away");
  close.addEventListener("click", () => (box.hidden = true));
  buttons.append(close);
  box.replaceChildren(words, buttons);
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
