// The phone's page: photos to the bench, one after the other; what fails can be sent again.
// @ts-check
import { Trouble, sendPhoto } from "./send.js";
import { byId, element } from "./page.js";

const sent = byId("sent");
let line = Promise.resolve();

/** @param {File} file */
function add(file) {
  const words = element("span", {}, file.name || "photo");
  const state = element("strong", {}, "waits");
  const item = element("li", {}, words, state);
  sent.prepend(item);
  const send = async () => {
    item.className = "";
    state.textContent = "on its way…";
    try {
      await sendPhoto(`/phone/photos?name=${encodeURIComponent(file.name || "photo")}`, file);
      item.className = "taken";
      item.replaceChildren(words, element("strong", {}, "on the bench"));
    } catch (e) {
      const trouble = e instanceof Trouble ? e : new Trouble({ problem: String(e), remedy: "Try again." }, 0);
      item.className = "failed";
      const again = element("button", { type: "button" }, "Send again");
      again.addEventListener("click", () => {
        item.replaceChildren(words, state);
        line = line.then(send);
      });
      item.replaceChildren(words, element("span", { class: "error" }, `${trouble.problem} ${trouble.remedy}`), again);
    }
  };
  line = line.then(send);
}

for (const id of ["shot", "chosen"]) {
  byId(id).addEventListener("change", (event) => {
    const field = /** @type {HTMLInputElement} */ (event.target);
    for (const file of field.files ?? []) add(file);
    field.value = "";
  });
}
