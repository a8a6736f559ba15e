// The drawer: what is known of each part.
// @ts-check
import { byId, element } from "./page.js";
import { beforeSteps, piece } from "./bench.js";
import { onChoice } from "./docket.js";
import { lengthField, number, said } from "./lengths.js";
import { Saver } from "./saver.js";

/** Hazards, in words. */
const HAZARDS = {
  lithium_cell: "Lithium cell", flash_capacitor: "Flash capacitor", mains_part: "Mains part", cold_cathode_lamp: "Cold-cathode lamp",
  cathode_ray_tube: "Cathode-ray tube", beryllium: "Beryllium", cracked_glass: "Cracked glass", sharp_edge: "Sharp edge",
};

/** What each hazard asks for. Local rules and licensed practice come first. */
const CAUTIONS = {
  lithium_cell: "Never cut, open, pierce or mount a live cell: show a stand-in and hand the cell to a collection point.",
  flash_capacitor: "It can hold a charge for days: leave it to someone trained, or show a stand-in.",
  mains_part: "Mains parts are for licensed practice; show a stand-in.",
  cold_cathode_lamp: "It holds mercury: never break it, recycle it as a lamp.",
  cathode_ray_tube: "High voltage and vacuum: do not take it apart; show a stand-in.",
  beryllium: "Never cut, grind or break it.",
  cracked_glass: "Gloves and goggles; cover it with clear film before it is touched.",
  sharp_edge: "Wear gloves.",
};

/** What lies on a back face and comes off first. */
const BACK_FILMS = { graphite: "Graphite film", loose_foil: "Loose foil or label", old_adhesive: "Rests of adhesive" };

/** What became of data, in the words of NIST SP 800-88. */
const DATA = { none: "it stores none", unknown: "nobody knows", clear: "cleared", purge: "purged", destroy: "destroyed" };

const cells = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".cell")]);
if (cells.length > 0) start();

function start() {
  const label = byId("label");
  /** Choices that other pages have too, each with its word in documents and what it is called. @type {Record<string, [string, string][]>} */
  const words = JSON.parse(label.dataset.words ?? "{}");
  let chosen = "";
  const saver = new Saver(byId("saved"), (answer) => {
    if (answer === null) {
      location.reload();
      return;
    }
    if (answer.parts) renew(answer.parts);
  });
  beforeSteps(() => saver.settled());

  for (const cell of cells) {
    const size = /** @type {HTMLElement} */ (cell.querySelector(".size"));
    const [w, h] = (size.dataset.mm ?? "0 0").split(" ").map(Number);
    size.textContent = `${number(w)} x ${said(h)}`;
    const image = cell.querySelector("image");
    if (image instanceof SVGImageElement) picture(image);
    cell.addEventListener("click", () => choose(cell.dataset.part ?? ""));
  }

  /** A cut-out at half its scale. @param {SVGImageElement} image */
  function picture(image) {
    const { image: name = "", scale = "12", x = "0", y = "0" } = image.dataset;
    const href = `/picture/quarter/${name.replace("images/", "")}`;
    const probe = new Image();
    probe.addEventListener("load", () => {
      const mm = 4 / Number(scale), w = probe.naturalWidth * mm, h = probe.naturalHeight * mm;
      image.setAttribute("x", x);
      image.setAttribute("y", String(-Number(y) - h));
      image.setAttribute("width", String(w));
      image.setAttribute("height", String(h));
      image.setAttribute("href", href);
      image.parentElement?.classList.add("pictured");
    });
    probe.src = href;
  }

  /** Names as they are now. @param {any[]} parts */
  function renew(parts) {
    for (const part of parts) {
      const cell = cells.find((c) => c.dataset.part === part.id);
      const name = cell?.querySelector("strong");
      if (name) name.textContent = part.name;
    }
  }

  /** @param {string} id */
  function choose(id) {
    chosen = id;
    for (const cell of cells) cell.setAttribute("aria-pressed", String(cell.dataset.part === id));
    show();
    history.replaceState(null, "", `?part=${encodeURIComponent(id)}`);
  }

  onChoice((parts) => {
    const cell = cells.find((c) => parts.includes(c.dataset.part ?? ""));
    if (!cell) return false;
    choose(cell.dataset.part ?? "");
    cell.focus();
    cell.scrollIntoView({ block: "center" });
    return true;
  });

  function show() {
    const cell = cells.find((c) => c.dataset.part === chosen);
    if (!cell) return;
    const part = chosen;
    const now = JSON.parse(cell.dataset.know ?? "{}");
    const know = (/** @type {any} */ what) => {
      Object.assign(now, what);
      cell.dataset.know = JSON.stringify(now);
      saver.add([{ do: "know", part, what }]);
    };
    const text = (/** @type {string} */ word, /** @type {string} */ name, /** @type {(v: string) => any} */ heard, /** @type {any} */ more = {}) => {
      const field = element("input", { type: "text", name, autocomplete: "off", maxlength: 120, ...more });
      field.value = now[name] ?? "";
      field.addEventListener("change", () => {
        if (more.required && field.value.trim() === "") {
          field.setCustomValidity("Give it a name.");
          field.reportValidity();
          return;
        }
        field.setCustomValidity("");
        know(heard(field.value));
      });
      return element("label", { class: "block" }, word, field);
    };
    const choice = (/** @type {string} */ word, /** @type {[string, string][]} */ options, /** @type {string} */ value, /** @type {(v: string) => void} */ heard) => {
      const select = element("select", {}, ...options.map(([v, name]) => element("option", { value: v, selected: v === value }, name)));
      select.addEventListener("change", () => heard(select.value));
      return element("label", { class: "block" }, word, select);
    };
    const height = element("input", { type: "text", inputmode: "decimal", class: "length", placeholder: "not known" });
    lengthField(height, now.thickness_mm, (mm) => know({ thickness_mm: mm }), { least: 0, most: 500, digits: 2 });
    const mass = element("input", { type: "text", inputmode: "decimal", placeholder: "not known" });
    mass.value = now.mass_g ?? "";
    mass.addEventListener("change", () => {
      const typed = mass.value.trim().replace(",", ".").replace(/\s*g$/i, "");
      const grams = Number(typed);
      const bad = typed !== "" && !(grams >= 0 && grams <= 100000);
      mass.setCustomValidity(bad ? "Type grams, such as 11.2, or leave it empty." : "");
      mass.reportValidity();
      if (!bad) know({ mass_g: typed === "" ? null : grams });
    });
    /** A length that may be unknown. @param {string} word @param {string} name @param {number} most */
    const length = (word, name, most) => {
      const field = element("input", { type: "text", inputmode: "decimal", class: "length", placeholder: "not known" });
      lengthField(field, now[name], (mm) => know({ [name]: mm }), { least: 0, most, digits: 2, emptied: () => know({ [name]: null }) });
      return element("label", { class: "block" }, word, field);
    };
    const checks = (/** @type {Record<string, string>} */ words, /** @type {string} */ name) => Object.entries(words).map(([value, word]) => {
      const box = element("input", { type: "checkbox", checked: now[name].includes(value) });
      box.addEventListener("change", () => {
        const rest = now[name].filter((/** @type {string} */ v) => v !== value);
        know({ [name]: box.checked ? [...rest, value] : rest });
      });
      return element("label", { class: "check" }, box, word);
    });
    const mounting = () => {
      const stored = () => (now.storage === null ? "none" : now.storage.sanitization ?? "unknown");
      const who = (/** @type {string} */ word, /** @type {"by" | "on"} */ name, /** @type {string} */ hint) => {
        const field = element("input", { type: "text", autocomplete: "off", maxlength: 120, placeholder: hint });
        field.value = now.storage?.[name] ?? "";
        field.addEventListener("change", () => know({ storage: { ...now.storage, [name]: field.value.trim() === "" ? null : field.value.trim() } }));
        return element("label", { class: "block" }, word, field);
      };
      const record = element("div", { class: "pair", hidden: now.storage === null }, who("By whom", "by", "not known"), who("On", "on", "YYYY-MM-DD"));
      const data = choice("Its data", Object.entries(DATA), stored(), (v) => {
        know({ storage: v === "none" ? null : { ...now.storage, sanitization: v === "unknown" ? null : v } });
        record.hidden = v === "none";
      });
      return element("details", {}, element("summary", {}, "For mounting"),
        element("div", { class: "pair" }, length("Wall of a shell", "wall_mm", 50), length("Depth inside it", "inner_depth_mm", 300)),
        element("div", { class: "pair" }, length("Stands off the board", "lift_mm", 300),
          choice("Comes free by", [["", "it is free"], ...words.freed_by], now.freed_by ?? "", (v) => know({ freed_by: v === "" ? null : v }))),
        text("Trimmed off before", "trim", (v) => ({ trim: v.trim() === "" ? null : v.trim() }), { placeholder: "nothing" }),
        element("fieldset", { class: "plain-set" }, element("legend", {}, "On its back"), ...checks(BACK_FILMS, "back_films")),
        data, record);
    };
    const home = () => {
      const at = { x: 0, y: 0, turn_deg: 0, layer: 0, ...now.home };
      const place = (/** @type {Partial<typeof at>} */ what) => {
        Object.assign(at, what);
        know({ home: { ...at } });
      };
      const whole = (/** @type {string} */ word, /** @type {"turn_deg" | "layer"} */ name, /** @type {(v: number) => boolean} */ fits) => {
        const field = element("input", { type: "text", inputmode: "decimal", placeholder: "not known" });
        field.value = now.home === null ? "" : String(at[name]);
        field.addEventListener("change", () => {
          const value = Number(field.value.trim().replace(",", "."));
          const bad = field.value.trim() === "" || !fits(value);
          field.setCustomValidity(bad ? "Type a number." : "");
          field.reportValidity();
          if (!bad) place({ [name]: value });
        });
        return element("label", { class: "block" }, word, field);
      };
      const along = (/** @type {string} */ word, /** @type {"x" | "y"} */ name) => {
        const field = element("input", { type: "text", inputmode: "decimal", class: "length", placeholder: "not known" });
        lengthField(field, now.home === null ? null : at[name], (mm) => place({ [name]: mm }), { digits: 2 });
        return element("label", { class: "block" }, word, field);
      };
      const forget = element("button", { type: "button" }, "Not known");
      forget.addEventListener("click", () => {
        know({ home: null });
        show();
      });
      return element("details", {}, element("summary", {}, "Where it sat in the device"),
        element("p", { class: "soft" }, "Of its outline's lower left corner, from the device's lower left, seen from the front; layer 0 in front."),
        element("div", { class: "pair" }, along("From the left", "x"), along("From below", "y")),
        element("div", { class: "pair" },
          whole("Turned, degrees", "turn_deg", (v) => Number.isFinite(v) && Math.abs(v) <= 360),
          whole("Layer", "layer", (v) => Number.isInteger(v) && v >= 0 && v <= 1000)),
        element("p", { class: "buttons" }, forget));
    };
    const face = () => choice("Face shown", [["front", "front"], ["back", "back"]], now.face_shown, async (v) => {
      know({ face_shown: v });
      // Its outline and its picture are others now.
      await saver.settled();
      location.reload();
    });
    const cautions = element("div");
    const warn = () => cautions.replaceChildren(...now.hazards.map((/** @type {keyof typeof CAUTIONS} */ h) => element("p", { class: "caution" }, `${CAUTIONS[h]} Local rules come first.`)));
    const hazards = element("details", { open: now.hazards.length > 0 }, element("summary", {}, "What can hurt someone"), ...Object.entries(HAZARDS).map(([value, name]) => {
      const box = element("input", { type: "checkbox", checked: now.hazards.includes(value) });
      box.addEventListener("change", () => {
        const all = now.hazards.filter((/** @type {string} */ h) => h !== value);
        if (box.checked) all.push(value);
        know({ hazards: all });
        warn();
      });
      return element("label", { class: "check" }, box, name);
    }));
    warn();
    const remove = element("button", { type: "button" }, "Remove from the piece");
    remove.addEventListener("click", async () => {
      saver.add([{ do: "remove", part }]);
      await saver.settled();
      location.assign(location.pathname);
    });
    const order = cells.map((c) => c.dataset.part ?? ""), k = order.indexOf(part);
    const move = (/** @type {string} */ word, /** @type {number} */ to) => {
      const button = element("button", { type: "button", disabled: to < 0 || to >= order.length }, word);
      button.addEventListener("click", async () => {
        [order[k], order[to]] = [order[to], order[k]];
        saver.add([{ do: "order", parts: order }]);
        await saver.settled();
        location.reload();
      });
      return button;
    };
    const board = element("a", { class: "button", href: `/piece/${piece}/board?part=${encodeURIComponent(part)}` }, "On the board");
    label.replaceChildren(
      element("h2", {}, element("span", { class: "item" }, cell.querySelector(".item")?.textContent ?? ""), " ", now.name),
      text("Name", "name", (v) => ({ name: v.trim() }), { required: true }),
      element("div", { class: "pair" },
        choice("Kind", words.kinds, now.kind, (v) => know({ kind: v })),
        text("How many", "quantity", (v) => ({ quantity: Math.max(1, Math.min(999, Math.round(Number(v)) || 1)) }), { inputmode: "numeric" })),
      element("div", { class: "pair" },
        element("label", { class: "block" }, "Greatest height", height),
        element("label", { class: "block" }, "Mass, g", mass)),
      element("div", { class: "pair" },
        text("Back face is of", "back_face", (v) => ({ back_face: v.trim() === "" ? null : v.trim() }), { placeholder: "fr4, abs, stainless", list: "materials" }),
        text("Group", "group", (v) => ({ group: v.trim() === "" ? null : v.trim() }), { placeholder: "stays together" })),
      element("div", { class: "pair" },
        choice("May be turned", [["none", "not at all"], ["quarter", "by quarters"], ["free", "freely"]], now.turns, (v) => know({ turns: v })),
        choice("Shown is", [["", "the part"], ...words.stand_ins], now.stand_in?.form ?? "", (v) => {
          now.stand_in = v === "" ? null : { form: v, why: now.stand_in?.why ?? "chosen in the drawer" };
          cell.dataset.know = JSON.stringify(now);
          saver.add([{ do: "stand_in", part, stand_in: now.stand_in }]);
        })),
      // Where only one face was photographed, the other can be seen as a bare outline at most.
      now.has_back || now.face_shown === "back" ? face() : "",
      mounting(), home(), hazards, cautions,
      element("p", { class: "soft" }, now.sigma_mm === null ? "" : `Outline sure to ±${said(now.sigma_mm, 2)} (one sigma)`),
      element("p", { class: "buttons" }, move("One number down", k - 1), move("One number up", k + 1)),
      element("p", { class: "buttons" }, board, remove),
    );
  }

  const wanted = new URLSearchParams(location.search).get("part");
  if (wanted) choose(wanted);
  document.body.dataset.ready = "";
}
