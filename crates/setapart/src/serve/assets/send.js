// Asking the app for something, and hearing why it was not done.
// @ts-check

/** Why a request was not done. */
export class Trouble extends Error {
  /** @param {{problem: string, remedy: string, field?: string | null, conflict?: boolean}} said @param {number} status */
  constructor(said, status) {
    super(said.problem);
    this.problem = said.problem;
    this.remedy = said.remedy;
    this.field = said.field ?? null;
    this.conflict = said.conflict === true;
    this.status = status;
  }
}

/**
 * Sends data, or nothing, and hears the answer.
 * @param {string} url @param {unknown} [data] @returns {Promise<any>}
 */
export async function post(url, data = {}) {
  return hear(fetch(url, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(data),
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
  } catch {
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
