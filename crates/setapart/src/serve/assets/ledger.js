// Forms of the ledger: each change is sent and kept, and the answer comes back beside the form.
// @ts-check
import { Trouble, post } from "./send.js";
import { byId, element, say, showTrouble } from "./page.js";
import { beforeSteps, piece, stand, standsAt } from "./bench.js";

/** How long typing rests before it is sent, ms. */
const REST = 350;

const form = document.getElementById("ledger");
if (form instanceof HTMLFormElement) start(form);
document.body.dataset.ready = "";

/** @param {HTMLFormElement} form */
function start(form) {
  const sign = byId("saved"), general = byId("form-error");
  let changed = false, sending = false;
  // What is typed while one field has the focus is one step of the history.
  const began = Date.now().toString(36);
  let gesture = 0;
  form.addEventListener("focusin", () => (gesture += 1));
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  /** @type {(() => void)[]} */
  const bells = [];
  // What the store had when this page last heard of it. A piece's form has its revision; the shop's own forms have none, and
  // what another window changed is told by this.
  let shown = fields();

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    soon(0);
  });
  form.addEventListener("input", () => soon(REST));
  form.addEventListener("change", (event) => {
    const field = event.target;
    if (field instanceof HTMLInputElement && field.type === "file") {
      void take(field);
      return;
    }
    soon(0);
  });
  form.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("button") : null;
    if (button?.dataset.add) add(button.dataset.add);
    if (button?.dataset.drop !== undefined) drop(button);
  });
  for (const place of form.querySelectorAll("[data-take]")) {
    place.addEventListener("dragover", (event) => event.preventDefault());
    place.addEventListener("drop", (event) => {
      event.preventDefault();
      const file = event instanceof DragEvent ? event.dataTransfer?.files[0] : undefined;
      if (file && place instanceof HTMLElement) void read(file, place.dataset.take ?? "");
    });
  }
  beforeSteps(() => {
    if (!changed && !sending) return Promise.resolve();
    soon(0);
    return new Promise((done) => bells.push(done));
  });
  window.addEventListener("beforeunload", (event) => {
    if (changed || sending) event.preventDefault();
  });

  /** @param {number} ms */
  function soon(ms) {
    changed = true;
    sign.textContent = "Working it out…";
    clearTimeout(timer);
    timer = setTimeout(send, ms);
  }

  async function send() {
    if (sending) return;
    sending = true;
    changed = false;
    const sent = fields();
    try {
      const ofShop = piece === "" ? { shown } : {};
      const heard = await post(form.dataset.url ?? "", { base: standsAt(), gesture: `${began}-${gesture}`, fields: sent, ...ofShop });
      shown = { ...sent, ...heard.set, ...heard.stored };
      stand(heard);
      if (heard.again) {
        location.reload();
        return;
      }
      clear();
      // A line that was put in has its number from now on.
      for (const [name, value] of Object.entries(heard.set ?? {})) {
        const field = form.elements.namedItem(name);
        if (field instanceof HTMLInputElement) field.value = String(value);
      }
      for (const gone of form.querySelectorAll("[data-gone]")) gone.remove();
      put(heard.answer);
      sign.textContent = "Saved";
    } catch (e) {
      failed(e);
    } finally {
      sending = false;
      if (changed) soon(0);
      else for (const bell of bells.splice(0)) bell();
    }
  }

  /** @returns {Record<string, string>} */
  function fields() {
    /** @type {Record<string, string>} */
    const all = {};
    for (const [name, value] of new FormData(form)) if (typeof value === "string") all[name] = value;
    return all;
  }

  /** Our own page's markup takes the place of the last answer. @param {string} markup */
  function put(markup) {
    const place = byId("answer");
    const open = [...place.querySelectorAll("details")].map((d) => d.open);
    const parsed = new DOMParser().parseFromString(markup, "text/html");
    place.replaceChildren(...parsed.body.childNodes);
    place.querySelectorAll("details").forEach((d, k) => (d.open = open[k] ?? false));
    // People who listen hear what the answer comes to, not all of it.
    say([...place.querySelectorAll(".large, .large + p, .caution")].slice(0, 3).map((e) => e.textContent).join(" "));
  }

  function clear() {
    general.hidden = true;
    for (const field of form.querySelectorAll("[aria-invalid]")) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
    for (const said of form.querySelectorAll(".said")) said.remove();
  }

  /** What is wrong is said at the field that it is about; what was typed stays. @param {unknown} e */
  function failed(e) {
    sign.textContent = "Not saved";
    clear();
    if (!(e instanceof Trouble) || e.status === 0 || e.status >= 500) {
      showTrouble(e, () => soon(0));
      return;
    }
    const words = `${e.problem} ${e.remedy}`;
    const field = e.field === null ? null : form.elements.namedItem(e.field);
    if (field instanceof HTMLElement) {
      const id = `said-${e.field}`;
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", id);
      const place = field.closest("label, li") ?? field.closest("fieldset") ?? form;
      place.append(element("span", { class: "error said", id, role: "alert" }, words));
    } else {
      general.textContent = words;
      general.hidden = false;
    }
  }

  /** @param {string} list */
  function add(list) {
    const lines = form.querySelector(`[data-list="${list}"]`), template = document.getElementById(`line-${list}`);
    if (!lines || !(template instanceof HTMLTemplateElement)) return;
    const used = [...form.elements].map((f) => new RegExp(`^${list}\\.(\\d+)\\.`).exec(f.getAttribute("name") ?? "")).map((m) => Number(m?.[1] ?? -1));
    const next = String(Math.max(-1, ...used) + 1);
    const line = /** @type {DocumentFragment} */ (template.content.cloneNode(true));
    for (const field of line.querySelectorAll("[name]")) field.setAttribute("name", (field.getAttribute("name") ?? "").replace(".NEW.", `.${next}.`));
    lines.append(line);
    const first = lines.lastElementChild?.querySelector("input:not([type=hidden])");
    if (first instanceof HTMLElement) first.focus();
  }

  /** @param {HTMLButtonElement} button */
  function drop(button) {
    const line = button.closest("li");
    const near = line?.nextElementSibling ?? line?.previousElementSibling;
    const number = line?.querySelector('input[type="hidden"][name$=".id"]');
    if (line?.classList.contains("stock-line") && number instanceof HTMLInputElement && number.value !== "") {
      form.append(element("input", { type: "hidden", "data-gone": true, name: `gone.${number.value}.id`, value: number.value }));
    }
    line?.remove();
    const next = near?.querySelector("[data-drop]");
    if (next instanceof HTMLElement) next.focus();
    soon(0);
  }

  /** @param {HTMLInputElement} input */
  async function take(input) {
    const file = input.files?.[0];
    if (file) await read(file, input.dataset.into ?? "");
    input.value = "";
  }

  /** A table that was dropped or chosen goes along with the form, once. @param {File} file @param {string} name */
  async function read(file, name) {
    const place = form.elements.namedItem(name);
    if (!(place instanceof HTMLInputElement)) return;
    if (file.size > 512 * 1024) {
      failed(new Trouble({ problem: "This table is larger than 512 KB, the limit here.", remedy: "Take lines out that nobody would buy.", field: name }, 413));
      return;
    }
    place.value = await file.text();
    gesture += 1;
    while (sending) await new Promise((done) => setTimeout(done, 50));
    await send();
    place.value = "";
  }
}
