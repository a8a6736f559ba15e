// The shelf: begin a piece, bring one in, or set up the demo.
// @ts-check
import { Trouble, hear, post } from "./send.js";
import { byId, element, showNotice, showTrouble } from "./page.js";
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
    const { go, without_pictures: left } = await hear(fetch("/pieces/import", { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file }));
    if (left === 0) location.href = go;
    else tellLeftOut(go, left);
  } catch (e) {
    showTrouble(e);
  }
});

/** A document alone has no pictures: how they come along is said before the piece is opened. @param {string} go @param {number} left */
function tellLeftOut(go, left) {
  const pictures = left === 1 ? "1 picture was" : `${left} pictures were`;
  showNotice(`The piece is on the shelf, but ${pictures} left out.`,
    "A browser sends the document alone, not the pictures beside it. To have them too, put this piece into the bin and bring in a bundle instead, "
    + "or use `setapart workshop import FILE` in the document's folder.",
    [element("a", { class: "button primary", href: go }, "Open it without them"), element("a", { class: "button", href: "/" }, "Stay on the shelf")]);
}

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
