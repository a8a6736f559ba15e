// The shelf: begin a piece, or set up the demo.
// @ts-check
import { Trouble, hear, post } from "./send.js";
import { byId, showTrouble } from "./page.js";
import { work } from "./jobs.js";

byId("new-piece").addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.currentTarget);
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  try {
    const { go } = await post("/pieces", { name: new FormData(form).get("name") });
    location.href = go;
  } catch (e) {
    if (e instanceof Trouble && e.field === "name") {
      error.textContent = `${e.problem} ${e.remedy}`;
      error.hidden = false;
    } else showTrouble(e);
  }
});

byId("demo").addEventListener("click", async () => {
  const button = /** @type {HTMLButtonElement} */ (byId("demo"));
  button.disabled = true;
  try {
    const { go } = await work("/demo", {}, byId("demo-job"));
    location.href = go;
  } catch (e) {
    if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
  } finally {
    button.disabled = false;
  }
});

byId("import").addEventListener("change", async (event) => {
  const field = /** @type {HTMLInputElement} */ (event.target);
  const file = field.files?.[0];
  field.value = "";
  if (!file) return;
  try {
    const { go } = await hear(fetch("/pieces/import", { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file }));
    location.href = go;
  } catch (e) {
    showTrouble(e);
  }
});

for (const button of document.querySelectorAll("[data-bin]")) {
  if (!(button instanceof HTMLButtonElement)) continue;
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await post(`/piece/${button.dataset.bin}/bin`, { binned: button.dataset.into === "yes" });
      location.reload();
    } catch (e) {
      showTrouble(e);
      button.disabled = false;
    }
  });
}
