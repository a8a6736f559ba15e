// Capture: photos in, outlines over them, strokes, heights.
// @ts-check
import { Trouble, ask, post, sendPhoto } from "./send.js";
import { byId, draw, element, say, showTrouble } from "./page.js";
import { piece, stand } from "./bench.js";
import { follow, work } from "./jobs.js";
import { lengthField, number, said } from "./lengths.js";

/**
 * @typedef {{rings_px: [number, number][][], at_mm: [number, number], size_mm: [number, number], thickness_mm: number | null,
 *   sigma_mm: number, sigma_parts_mm: Record<string, number>, warnings: string[]}} Found
 * @typedef {{at_mm: [number, number], thickness_mm?: number, part?: string, left_out: boolean}} Mark
 * @typedef {{id: number, name: string, picture: string, revision: number, undo: string | null, redo: string | null, job?: number,
 *   shows: {role: string, stage?: number}, work: {thickness_mm: number | null, marks: Mark[], strokes: any[], taken: any},
 *   found: {size_px: [number, number], px_per_mm: number, camera: any, corner_rms_mm: number | null, outlines: Found[],
 *     strokes: {kind: string, points_px: [number, number][], width_px: number}[], findings: any[]} | null}} Photo
 */

// ---- photos in ----

const arriving = byId("arriving");

/** @param {Iterable<File>} files */
async function bringIn(files) {
  const last = { photo: 0 };
  // One after the other: the line is shared, and so is the app.
  for (const file of files) {
    const words = element("span", {}, file.name);
    const line = element("li", { class: "job" }, words, element("span", { class: "soft" }, "on its way…"));
    arriving.append(line);
    const send = async () => {
      const { photo, job } = await sendPhoto(`/piece/${piece}/photos?name=${encodeURIComponent(file.name)}`, file);
      last.photo = photo;
      await follow(job, line);
    };
    try {
      await send();
      line.remove();
    } catch (e) {
      const trouble = e instanceof Trouble ? e : new Trouble({ problem: String(e), remedy: "Try again." }, 0);
      const away = element("button", { type: "button" }, "Put away");
      away.addEventListener("click", () => line.remove());
      line.hidden = false;
      line.replaceChildren(element("strong", { class: "error" }, `${file.name}: ${trouble.problem}`), element("span", {}, trouble.remedy), away);
    }
  }
  // The page shows the new photos; what went wrong stays to be read.
  if (last.photo === 0) return;
  if (arriving.childElementCount === 0) location.assign(`/piece/${piece}/capture?photo=${last.photo}`);
  else {
    const look = element("a", { class: "button", href: `/piece/${piece}/capture?photo=${last.photo}` }, "Show the others");
    arriving.append(element("li", {}, look));
  }
}

byId("pick").addEventListener("change", (event) => {
  const field = /** @type {HTMLInputElement} */ (event.target);
  bringIn([...(field.files ?? [])]);
  field.value = "";
});
let over = 0;
document.addEventListener("dragenter", () => document.body.classList.toggle("dropping", ++over > 0));
document.addEventListener("dragleave", () => document.body.classList.toggle("dropping", --over > 0));
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  over = 0;
  document.body.classList.remove("dropping");
  bringIn([...(event.dataTransfer?.files ?? [])]);
});

// ---- a phone ----

const phone = document.getElementById("phone");
phone?.addEventListener("click", async () => {
  const dialog = /** @type {HTMLDialogElement} */ (byId("phone-dialog"));
  try {
    const { url, modules, minutes } = await post(`/piece/${piece}/phone`);
    const size = modules.length;
    const d = modules.flatMap((/** @type {string} */ row, /** @type {number} */ y) => [...row].map((c, x) => (c === "#" ? `M${x} ${y}h1v1h-1z` : ""))).join("");
    const code = draw("svg", { viewBox: `-4 -4 ${size + 8} ${size + 8}`, role: "img", "aria-label": `Code of ${url}`, "shape-rendering": "crispEdges" });
    code.append(draw("path", { d, fill: "#000" }));
    byId("phone-code").replaceChildren(code,
      element("p", {}, "Point the phone's camera at the code; phone and this machine must be in the same network. Photos come in here by themselves."),
      element("p", { class: "soft" }, `The code is good for one phone and ${minutes} minutes. Whoever sees it may send photos to this piece, and nothing else. ${url}`));
    dialog.showModal();
  } catch (e) {
    showTrouble(e);
  }
});
byId("phone-close").addEventListener("click", () => {
  /** @type {HTMLDialogElement} */ (byId("phone-dialog")).close();
  location.reload();
});

// ---- a photo on the table ----

const place = document.getElementById("photo");
if (place) table(place);

/** @param {HTMLElement} place */
function table(place) {
  /** @type {Photo | null} */
  let photo = null;
  let kind = "", zoom = 1;
  /** It is looked at how the picture was taken. */
  let wayIsOpen = false;
  /** @type {number | null} */
  let chosen = null;
  const list = byId("found");
  const job = byId("job");
  const svg = draw("svg", {});
  const image = draw("image", { preserveAspectRatio: "none" });
  const outlines = draw("g"), strokes = draw("g"), names = draw("g", { class: "tagged", "aria-hidden": "true" }), pen = draw("g");
  svg.append(image, outlines, names, strokes, pen);
  place.append(svg);

  /** @param {number} id */
  async function open(id) {
    for (const button of document.querySelectorAll("[data-photo]")) {
      button.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (button).dataset.photo === String(id)));
    }
    history.replaceState(null, "", `?photo=${id}`);
    chosen = null;
    try {
      await show(await ask(`/photo/${id}.json`));
    } catch (e) {
      showTrouble(e, () => open(id));
    }
  }

  /** Shows a photo; where its outlines are still looked for, shows that too and waits. @param {Photo} data */
  async function show(data) {
    photo = data;
    image.setAttribute("href", data.picture);
    steps();
    if (data.found === null && data.job !== undefined) {
      outlines.replaceChildren();
      names.replaceChildren();
      strokes.replaceChildren();
      const probe = new Image();
      probe.addEventListener("load", () => size([probe.naturalWidth, probe.naturalHeight]));
      probe.src = data.picture;
      list.replaceChildren(element("p", { class: "soft" }, "Looking for the parts…"));
      try {
        const done = await follow(data.job, job);
        if (photo.id === done.id) await show(done);
      } catch (e) {
        if (photo.id !== data.id) return;
        refused(e);
      }
      return;
    }
    if (data.found) {
      size(data.found.size_px);
      drawFound(data.found);
      tell(data);
    }
  }

  /** A photo in which nothing can be found says why, and what else could be tried. @param {unknown} e */
  function refused(e) {
    const trouble = e instanceof Trouble ? e : new Trouble({ problem: String(e), remedy: "Try again." }, 0);
    // What is missing of a scan is its resolution, as a rule.
    if (photo?.work.taken.way === "scan") wayIsOpen = true;
    const again = element("button", { type: "button" }, "Look again");
    again.addEventListener("click", () => photo && open(photo.id));
    list.replaceChildren(
      element("h2", {}, "No outlines"),
      element("p", { class: "error" }, trouble.problem),
      element("p", {}, trouble.remedy),
      way(),
      element("p", { class: "buttons" }, again, takeAway()),
    );
  }

  /** @param {[number, number]} px */
  function size([w, h]) {
    image.setAttribute("width", String(w));
    image.setAttribute("height", String(h));
    svg.setAttribute("viewBox", `0 0 ${w} ${h}`);
    const room = place.getBoundingClientRect();
    const scale = Math.min((room.width - 2) / w, (room.height - 2) / h) * zoom;
    svg.setAttribute("width", String(w * scale));
    svg.setAttribute("height", String(h * scale));
    svg.style.setProperty("--px", String(1 / scale));
  }

  /** @param {NonNullable<Photo["found"]>} found */
  function drawFound(found) {
    const d = (/** @type {Found} */ o) => o.rings_px.map((ring) => `M${ring.map(([x, y]) => `${x} ${y}`).join("L")}Z`).join("");
    outlines.replaceChildren(...found.outlines.flatMap((o, k) => {
      const path = draw("path", { class: "outline", d: d(o), "data-outline": k, tabindex: "0", role: "button", "aria-label": describe(o, k) });
      path.classList.toggle("left-out", markOf(o)?.left_out === true);
      return [draw("path", { class: "outline-halo", d: d(o) }), path];
    }));
    names.replaceChildren(...found.outlines.map((o, k) => {
      const ring = o.rings_px[0];
      const xs = ring.map((p) => p[0]), ys = ring.map((p) => p[1]);
      const text = draw("text", { x: (Math.min(...xs) + Math.max(...xs)) / 2, y: (Math.min(...ys) + Math.max(...ys)) / 2 });
      text.textContent = String(k + 1);
      return text;
    }));
    strokes.replaceChildren(...found.strokes.map((s) => draw("polyline", {
      class: `stroke ${s.kind}`, points: s.points_px.map((p) => p.join(",")).join(" "), "stroke-width": s.kind === "split" ? 4 : s.width_px,
    })));
    mark();
  }

  /** @param {Found} o @param {number} k */
  function describe(o, k) {
    return `Outline ${k + 1}: ${number(o.size_mm[0])} by ${said(o.size_mm[1])}, sure to ${said(o.sigma_mm, 2)}, height ${o.thickness_mm === null ? "not known" : said(o.thickness_mm, 2)}`;
  }

  /** @param {Found} o */
  function markOf(o) {
    return photo?.work.marks.find((m) => Math.hypot(m.at_mm[0] - o.at_mm[0], m.at_mm[1] - o.at_mm[1]) < 0.5 || inside(m.at_mm, o));
  }

  /** Whether a mark lies in an outline: the app finds it by the plane, the page by the outline it was given. @param {[number, number]} at @param {any} o */
  function inside([x, y], o) {
    let odd = false;
    for (const ring of [o.outer, ...o.holes]) {
      for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
        const [ax, ay] = ring[i], [bx, by] = ring[j];
        if ((ay > y) !== (by > y) && x < ax + (y - ay) * (bx - ax) / (by - ay)) odd = !odd;
      }
    }
    return odd;
  }

  /** @param {Photo} data */
  function tell(data) {
    const found = data.found;
    if (!found) return;
    const all = element("input", { id: "height-of-all", class: "length", type: "text", inputmode: "decimal", placeholder: "?" });
    height(all, data.work.thickness_mm, (mm) => change({ do: "height_of_all", thickness_mm: mm }));
    const items = found.outlines.map((o, k) => {
      const own = markOf(o);
      const field = element("input", { class: "length", type: "text", inputmode: "decimal", placeholder: "?", "aria-label": `Height of outline ${k + 1}` });
      const at = own?.at_mm ?? o.at_mm;
      height(field, o.thickness_mm, (mm) => change({ do: "height", at_mm: at, thickness_mm: mm }));
      const out = element("button", { type: "button", "aria-pressed": String(own?.left_out === true), title: "It is no part of the piece" }, own?.left_out ? "Left out" : "Leave out");
      out.addEventListener("click", () => change({ do: "leave_out", at_mm: at, left_out: own?.left_out !== true }));
      const sigma = Object.entries(o.sigma_parts_mm).map(([what, mm]) => `${what} ${number(mm, 2)}`).join(", ");
      const item = element("li", { "data-item": k },
        element("div", { class: "row" }, element("strong", {}, `${k + 1}${own?.part ? " (in the drawer)" : ""}`), out),
        element("div", { class: "row" }, element("span", {}, `${number(o.size_mm[0])} x ${said(o.size_mm[1])}`), element("label", { class: "inline" }, "height", field)),
        element("div", { class: "numbers" }, element("span", { title: `One sigma; made of ${sigma}` }, `sure to ±${said(o.sigma_mm, 2)}`), element("span", {}, holes(o))),
        ...o.warnings.map((w) => element("p", { class: "warning" }, w.charAt(0).toUpperCase() + w.slice(1) + ".")));
      item.addEventListener("click", (event) => {
        if (event.target instanceof Element && event.target.closest("button, input")) return;
        choose(k);
      });
      return item;
    });
    const take = element("button", { type: "button", class: "primary" }, data.shows.role === "backs" ? "Join to the parts in the drawer" : "Into the drawer");
    const homes = element("a", { class: "button primary", href: `/piece/${piece}/homes` }, "To Homes");
    take.addEventListener("click", takeParts);
    const camera = found.camera ? `Camera ${said(found.camera.height_mm, 0)} above${found.corner_rms_mm === null ? "" : `, tag corners within ${said(found.corner_rms_mm, 2)}`}.` : "";
    list.replaceChildren(
      element("h2", {}, `${found.outlines.length} ${found.outlines.length === 1 ? "part" : "parts"} in ${data.name}`),
      element("p", { class: "buttons" }, data.shows.role === "inside" ? homes : take, takeAway()),
      element("p", { class: "soft" }, camera),
      element("label", { class: "inline" }, "Height of all others", all),
      element("ol", {}, ...items),
      way(),
    );
    mark();
  }

  /** @param {Found} o */
  const holes = (o) => (o.rings_px.length === 1 ? "no holes" : o.rings_px.length === 2 ? "1 hole" : `${o.rings_px.length - 1} holes`);

  /** A field for a height that may be left empty. @param {HTMLInputElement} field @param {number | null} mm @param {(mm: number | null) => void} heard */
  function height(field, mm, heard) {
    lengthField(field, mm, heard, { least: 0, most: 200, digits: 2, emptied: () => mm !== null && heard(null) });
  }

  /** What the photo shows. */
  function shows() {
    const now = photo?.shows ?? { role: "parts" };
    const select = element("select", {}, ...[["parts", "parts, the face up that is to be seen"], ["backs", "the same parts, turned over"], ["inside", "the opened device"]]
      .map(([value, name]) => element("option", { value, selected: now.role === value }, name)));
    const stage = element("input", { type: "number", min: "0", max: "99", value: String(now.stage ?? 0) });
    const change = async () => {
      if (!photo) return;
      const role = select.value;
      try {
        await show(await post(`/photo/${photo.id}/role`, role === "inside" ? { role, stage: Number(stage.value) } : { role }));
      } catch (e) {
        showTrouble(e);
      }
    };
    select.addEventListener("change", change);
    stage.addEventListener("change", change);
    return [
      element("label", { class: "block" }, "It shows", select),
      ...(now.role === "inside" ? [element("label", { class: "inline" }, "Taken apart so many steps", stage)] : []),
    ];
  }

  /** How the picture was taken. */
  function way() {
    const taken = photo?.work.taken ?? { way: "sheet" };
    const select = element("select", {}, ...[["sheet", "on a capture sheet"], ["card", "beside a card (85.60 x 53.98 mm)"], ["scan", "by a flatbed scanner"]]
      .map(([value, name]) => element("option", { value, selected: taken.way === value }, name)));
    const details = element("details", { open: wayIsOpen }, element("summary", {}, "How it was taken"));
    details.addEventListener("toggle", () => (wayIsOpen = details.open));
    const fields = element("div", { class: "numbers" });
    const bars = () => {
      fields.replaceChildren();
      if (select.value === "scan") {
        fields.append(resolution(taken.dpi ?? null));
        return;
      }
      if (select.value !== "sheet") return;
      const now = taken.printed_mm ?? [100, 100];
      const both = ["x", "y"].map((axis, k) => {
        const field = element("input", { class: "length", type: "text", inputmode: "decimal" });
        lengthField(field, now[k], (mm) => {
          now[k] = mm;
          change({ do: "way", taken: { way: "sheet", printed_mm: now } });
        }, { least: 90, most: 110, digits: 2 });
        return element("label", { class: "inline" }, `Bar along ${axis}`, field);
      });
      fields.append(...both);
    };
    select.addEventListener("change", () => change({ do: "way", taken: { way: select.value } }));
    bars();
    details.append(...shows(), element("label", { class: "block" }, "The picture was taken", select), fields);
    return details;
  }

  /** The resolution of a scan; many files say it themselves. @param {[number, number] | null} dpi  Along x and y. */
  function resolution(dpi) {
    const field = element("input", { type: "text", inputmode: "decimal", placeholder: "as the file says", size: 12 });
    field.value = dpi === null ? "" : String(dpi[0]);
    field.addEventListener("change", () => {
      const text = field.value.trim().replace(",", "."), value = Number(text);
      const bad = text !== "" && !(value >= 100 && value <= 19200);
      field.setCustomValidity(bad ? "Type a number, 100 to 19200, or leave it empty." : "");
      field.toggleAttribute("aria-invalid", bad);
      if (bad) field.reportValidity();
      else change({ do: "way", taken: { way: "scan", dpi: text === "" ? null : [value, value] } });
    });
    field.addEventListener("input", () => field.setCustomValidity(""));
    return element("label", { class: "inline" }, "Pixels an inch", field);
  }

  function takeAway() {
    const button = element("button", { type: "button" }, "Take the photo away");
    button.addEventListener("click", async () => {
      if (!photo) return;
      try {
        await post(`/photo/${photo.id}/remove`);
        location.assign(`/piece/${piece}/capture`);
      } catch (e) {
        showTrouble(e);
      }
    });
    return button;
  }

  async function takeParts() {
    if (!photo) return;
    try {
      const done = await work(`/photo/${photo.id}/take`, {}, job);
      stand(done.piece);
      await show(done);
      const plain = done.without_picture.map((/** @type {string} */ text) => element("p", { class: "caution" }, text));
      if (done.joined) {
        const { backs, swapped, alone } = done.joined;
        const told = [`Backs of ${backs.join(", ")}.`];
        if (swapped.length > 0) told.push(`Look at ${swapped.join(", ")}: parts of the same outline may be swapped.`);
        if (alone > 0) told.push(`${alone} ${alone === 1 ? "outline belongs" : "outlines belong"} to no part in the drawer.`);
        say(told[0]);
        list.prepend(element("p", {}, `${told.join(" ")} Which face is seen is chosen in `, element("a", { href: `/piece/${piece}/drawer` }, "the Drawer"), "."), ...plain);
        return;
      }
      const n = done.new, again = done.renewed;
      say(`${n} parts put into the drawer, ${again} captured again`);
      const link = element("p", {}, `${n} new in the drawer${again > 0 ? `, ${again} captured again` : ""}. `, element("a", { href: `/piece/${piece}/drawer` }, "To the drawer"));
      list.prepend(link, ...plain);
    } catch (e) {
      if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
    }
  }

  /** @param {any} what */
  async function change(what) {
    if (!photo) return;
    try {
      await show(await post(`/photo/${photo.id}/work`, { base: photo.revision, change: what }));
    } catch (e) {
      showTrouble(e);
      if (photo.found) drawFound(photo.found);
    }
  }

  // ---- choosing ----

  /** @param {number | null} k */
  function choose(k) {
    chosen = k;
    mark();
    list.querySelector("li.chosen")?.scrollIntoView({ block: "nearest" });
  }

  function mark() {
    for (const path of outlines.querySelectorAll("[data-outline]")) path.classList.toggle("chosen", Number(path.getAttribute("data-outline")) === chosen);
    for (const item of list.querySelectorAll("[data-item]")) item.classList.toggle("chosen", Number(item.getAttribute("data-item")) === chosen);
  }

  svg.addEventListener("keydown", (event) => {
    const path = event.target instanceof Element ? event.target.closest("[data-outline]") : null;
    if (!path || (event.key !== "Enter" && event.key !== " ")) return;
    event.preventDefault();
    choose(Number(path.getAttribute("data-outline")));
    /** @type {HTMLElement | null} */ (list.querySelector("li.chosen input"))?.focus();
  });

  // ---- strokes ----

  for (const button of document.querySelectorAll("[data-kind]")) {
    button.addEventListener("click", () => {
      kind = /** @type {HTMLElement} */ (button).dataset.kind ?? "";
      for (const other of document.querySelectorAll("[data-kind]")) other.setAttribute("aria-pressed", String(other === button));
      svg.classList.toggle("drawing", kind !== "");
    });
  }

  /** @param {PointerEvent} event @returns {[number, number]} */
  function inPhoto(event) {
    const m = svg.getScreenCTM();
    return m ? [(event.clientX - m.e) / m.a, (event.clientY - m.f) / m.d] : [0, 0];
  }

  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !photo?.found) return;
    if (kind === "") {
      const path = event.target instanceof Element ? event.target.closest("[data-outline]") : null;
      choose(path ? Number(path.getAttribute("data-outline")) : null);
      return;
    }
    event.preventDefault();
    svg.setPointerCapture(event.pointerId);
    const breadth = Number(/** @type {HTMLInputElement} */ (byId("breadth")).value) * photo.found.px_per_mm;
    const points = [inPhoto(event)];
    const line = draw("polyline", { class: `stroke ${kind}`, "stroke-width": kind === "split" ? 4 : breadth });
    pen.append(line);
    const trace = () => line.setAttribute("points", points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" "));
    const onMove = (/** @type {PointerEvent} */ e) => {
      const p = inPhoto(e), q = points[points.length - 1];
      if (Math.hypot(p[0] - q[0], p[1] - q[1]) < 3 || points.length >= 3000) return;
      points.push(p);
      trace();
    };
    const end = async (/** @type {boolean} */ keep) => {
      svg.removeEventListener("pointermove", onMove);
      svg.removeEventListener("pointerup", onUp);
      svg.removeEventListener("pointercancel", onCancel);
      if (keep) await change({ do: "draw", kind, width_px: breadth, points_px: points });
      line.remove();
    };
    const onUp = () => end(kind !== "split" || points.length > 1);
    const onCancel = () => end(false);
    svg.addEventListener("pointermove", onMove);
    svg.addEventListener("pointerup", onUp);
    svg.addEventListener("pointercancel", onCancel);
    trace();
  });

  function steps() {
    for (const way of /** @type {const} */ (["undo", "redo"])) {
      const button = /** @type {HTMLButtonElement} */ (byId(`work-${way}`));
      const what = photo?.[way] ?? null;
      button.disabled = what === null;
      button.title = what ?? "";
    }
  }
  for (const way of /** @type {const} */ (["undo", "redo"])) {
    byId(`work-${way}`).addEventListener("click", async () => {
      if (!photo) return;
      try {
        await show(await post(`/photo/${photo.id}/step/${way}`, { revision: photo.revision }));
      } catch (e) {
        showTrouble(e);
      }
    });
  }

  for (const button of document.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => {
      zoom = Number(/** @type {HTMLElement} */ (button).dataset.zoom);
      for (const other of document.querySelectorAll("[data-zoom]")) other.setAttribute("aria-pressed", String(other === button));
      if (photo?.found) size(photo.found.size_px);
    });
  }
  window.addEventListener("resize", () => photo?.found && size(photo.found.size_px));

  // ---- to begin with ----

  for (const button of document.querySelectorAll("[data-photo]")) {
    button.addEventListener("click", () => open(Number(/** @type {HTMLElement} */ (button).dataset.photo)));
  }
  const wanted = new URLSearchParams(location.search).get("photo");
  const first = /** @type {HTMLElement | null} */ (document.querySelector(`[data-photo="${wanted}"]`) ?? document.querySelector("[data-photo]"));
  if (first) open(Number(first.dataset.photo)).then(() => (document.body.dataset.ready = ""));

  const news = new EventSource(`/piece/${piece}/news`);
  let known = document.querySelectorAll("[data-photo]").length;
  news.addEventListener("photo", (event) => {
    // A photo from the phone: it is offered, not thrown over what is being done.
    const { number: id } = JSON.parse(event.data);
    if (id === null || document.querySelector(`[data-photo="${id}"]`) || known < 0 || arriving.childElementCount > 0) return;
    known = -1;
    const link = element("a", { class: "button", href: `/piece/${piece}/capture?photo=${id}` }, "Show the new photo");
    arriving.append(element("li", { class: "job" }, "A photo came in.", link));
  });
  window.addEventListener("pagehide", () => news.close());
}
