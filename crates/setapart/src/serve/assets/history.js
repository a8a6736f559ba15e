// History: when things were done, and going to any state.
// @ts-check
import { post } from "./send.js";
import { showTrouble } from "./page.js";
import { piece } from "./bench.js";

const when = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" });
for (const time of document.querySelectorAll("time[data-ms]")) {
  const at = new Date(Number(time.getAttribute("data-ms")));
  time.setAttribute("datetime", at.toISOString());
  time.textContent = when.format(at);
}

document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("button[data-go]") : null;
  if (!(button instanceof HTMLButtonElement)) return;
  button.disabled = true;
  try {
    await post(`/piece/${piece}/go`, { revision: Number(button.dataset.go) });
    location.href = location.pathname;
  } catch (e) {
    showTrouble(e);
    button.disabled = false;
  }
});
document.body.dataset.ready = "";
