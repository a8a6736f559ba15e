// Long work: how far it is, and an end when someone says so.
// @ts-check
import { Trouble, post } from "./send.js";
import { element, say } from "./page.js";

/**
 * Starts work, shows its progress in `place`, and gives its result.
 * @param {string} url @param {unknown} data @param {HTMLElement} place @returns {Promise<any>}
 */
export async function work(url, data, place) {
  const { job } = await post(url, data);
  return follow(job, place);
}

/** @param {number} job @param {HTMLElement} place @returns {Promise<any>} */
export function follow(job, place) {
  const title = element("strong");
  const what = element("span", { class: "soft" });
  const bar = element("progress", { max: 1, value: 0, "aria-label": "Progress" });
  const stop = element("button", { type: "button" }, "Stop");
  stop.addEventListener("click", () => {
    stop.disabled = true;
    post(`/jobs/${job}/stop`).catch(() => {});
  });
  place.replaceChildren(title, bar, what, stop);
  place.hidden = false;
  return new Promise((resolve, reject) => {
    const events = new EventSource(`/jobs/${job}`);
    let silences = 0;
    events.addEventListener("report", (event) => {
      silences = 0;
      const report = JSON.parse(event.data);
      title.textContent = report.title;
      bar.value = report.share;
      what.textContent = report.what;
      if (!["done", "failed", "stopped"].includes(report.stage)) return;
      events.close();
      place.hidden = true;
      if (report.stage === "done") {
        say(`${report.title}: done`);
        resolve(report.result);
      } else {
        const [problem, remedy] = report.problem ?? ["It ended.", "Try again."];
        reject(new Trouble({ problem, remedy }, report.stage === "stopped" ? -1 : 422));
      }
    });
    events.addEventListener("error", () => {
      // The browser tries again by itself; after that the work is no longer known.
      silences += 1;
      if (silences < 4 && events.readyState !== EventSource.CLOSED) return;
      events.close();
      place.hidden = true;
      reject(new Trouble({ problem: "Nothing is heard of the work any more.", remedy: "Load the page again and look whether it was done." }, 0));
    });
  });
}
