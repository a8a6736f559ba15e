// Homes: parts where they sat in the device, over photos of it; what is not sure is put right by hand.
// @ts-check
import { ask, Trouble } from "./send.js";
import { byId, draw, element, say, showTrouble } from "./page.js";
import { beforeSteps, onState, piece } from "./bench.js";
import { onChoice } from "./docket.js";
import { work } from "./jobs.js";
import { carry, turnedAbout } from "./geometry.js";
import { Saver } from "./saver.js";

/**
 * @typedef {{x: number, y: number, turn_deg: number, layer: number}} Home
 * @typedef {{home: Home, confidence: number, sure: boolean, turned_over: boolean, alike: string[]}} Offer
 * @typedef {{id: string, number: number, name: string, rings: [number, number][][], home: Home | null, offer: Offer | null, told: string | null}} Part
 * @typedef {{revision: number, device: {size_mm: [number, number], rings: [number, number][][]} | null, from_behind: boolean, parts: Part[],
 *   underlays: {stage: number, name: string, href: string, x: number, y: number, w: number, h: number}[],
 *   findings: {level: string, text: string, remedy: string}[] | null}} Scene
 */

/** Room round the device, mm. */
const MARGIN = 8;

/** Homes nearer to each other than this are the same, mm and degrees. */
const SAME = 0.05;

const ARROWS = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] });

const place = document.getElementById("device");
if (place) start(place);

/** @param {HTMLElement} place */
function start(place) {
  /** @type {Scene} */
  let scene = { revision: 0, device: null, from_behind: false, parts: [], underlays: [], findings: null };
  let chosen = "", under = 0;
  /** The device's extent, mm. */
  let size = [60, 100];
  const seats = byId("seats");
  const svg = draw("svg", { class: "opened" });
  place.append(svg);
  const saver = new Saver(byId("saved"), () => load());
  beforeSteps(() => saver.settled());
  onState(() => load());

  async function load() {
    try {
      scene = await ask(`/piece/${piece}/homes.json`);
      measure();
      show();
      document.body.dataset.ready = "";
    } catch (e) {
      showTrouble(e, load);
    }
  }

  /** Where a part is drawn: at its home, else where it is offered. @param {Part} part */
  const seat = (part) => part.home ?? part.offer?.home ?? null;

  /** @param {Home} h */
  const poseOf = (h) => ({ x: h.x, y: h.y, turn: h.turn_deg });

  /** Rings as they lie in the device: mirrored where the part is seen from its other side. @param {Part} part */
  function ringsOf(part) {
    if (!part.offer?.turned_over) return part.rings;
    const xs = part.rings[0].map((p) => p[0]);
    const twice = Math.min(...xs) + Math.max(...xs);
    return part.rings.map((ring) => ring.map(([x, y]) => /** @type {[number, number]} */ ([twice - x, y])));
  }

  function measure() {
    if (scene.device) {
      size = scene.device.size_mm;
      return;
    }
    const corners = scene.parts.flatMap((p) => (p.home ? p.rings[0].map((q) => carry(poseOf(/** @type {Home} */ (p.home)), q)) : []));
    if (corners.length > 0) size = [0, 1].map((k) => Math.max(20, ...corners.map((c) => c[k])));
  }

  /** From the device's mm to the drawing's: y down, and x mirrored where the device is seen from behind. @param {number} x @param {number} y */
  const drawn = (x, y) => /** @type {[number, number]} */ ([scene.from_behind ? size[0] - x : x, -y]);

  /** Where a number can be read: at its part's middle, or beside it where another number stands there; kept with those that stand.
   * @param {[number, number]} at @param {[number, number][]} standing @returns {[number, number]} */
  function besideOthers([x, y], standing) {
    const ways = [[0, 0], ...[1, 2, 3, 4].flatMap((k) => [[k, 0], [-k, 0], [0, k], [0, -k]])];
    const places = ways.map(([i, j]) => /** @type {[number, number]} */ ([x + 5 * i, y + 4 * j]));
    const clear = (/** @type {[number, number]} */ [a, b]) => standing.every(([c, d]) => Math.abs(a - c) >= 4.9 || Math.abs(b - d) >= 3.9);
    const place = places.find(clear) ?? places[0];
    standing.push(place);
    return place;
  }

  function show() {
    const [w, h] = size;
    svg.setAttribute("viewBox", `${-MARGIN} ${-h - MARGIN} ${w + 2 * MARGIN} ${h + 2 * MARGIN}`);
    const world = draw("g", { transform: scene.from_behind ? `translate(${w} 0) scale(-1 -1)` : "scale(1 -1)" });
    const names = draw("g", { class: "seat-names", "aria-hidden": "true" });
    const photo = scene.underlays[under];
    const below = photo ? [draw("image", { href: photo.href, x: photo.x, y: -(photo.y + photo.h), width: photo.w, height: photo.h, preserveAspectRatio: "none" })] : [];
    const d = (/** @type {[number, number][][]} */ rings) => rings.map((ring) => `M${ring.map((p) => p.join(" ")).join("L")}Z`).join("");
    if (scene.device) world.append(draw("path", { class: "hull", d: d(scene.device.rings) }));
    // What lies nearer to the eye is drawn last.
    const nearer = scene.from_behind ? 1 : -1;
    /** @type {[number, number][]} */
    const numbers = [];
    const seated = scene.parts.filter(seat).sort((a, b) => nearer * (layerOf(a) - layerOf(b)));
    for (const part of seated) {
      const at = /** @type {Home} */ (seat(part));
      const rings = ringsOf(part);
      const kind = part.home ? "" : part.offer?.sure ? " offered" : " unsure";
      const path = draw("path", {
        class: `seat${kind}${photo ? "" : " solid"}`, d: d(rings), "data-part": part.id, transform: `translate(${at.x} ${at.y}) rotate(${at.turn_deg})`,
        tabindex: "0", role: "button", "aria-label": `${part.name}: ${state(part)}`, "aria-pressed": String(part.id === chosen),
      });
      path.classList.toggle("chosen", part.id === chosen);
      world.append(path);
      const [x, y] = besideOthers(drawn(...carry(poseOf(at), middle(rings[0]))), numbers);
      const text = draw("text", { x, y });
      text.textContent = String(part.number);
      names.append(text);
    }
    const held = document.activeElement instanceof SVGElement ? document.activeElement.getAttribute("data-part") : null;
    svg.replaceChildren(...below, world, names);
    if (held) /** @type {SVGElement | null} */ (svg.querySelector(`[data-part="${CSS.escape(held)}"]`))?.focus({ preventScroll: true });
    photos();
    list();
  }

  /** @param {[number, number][]} ring @returns {[number, number]} */
  function middle(ring) {
    const mid = (/** @type {number} */ k) => (Math.min(...ring.map((p) => p[k])) + Math.max(...ring.map((p) => p[k]))) / 2;
    return [mid(0), mid(1)];
  }

  /** @param {Part} part */
  const layerOf = (part) => seat(part)?.layer ?? Infinity;

  /** @param {Home} a @param {Home} b */
  const same = (a, b) => a.layer === b.layer && Math.abs(a.x - b.x) < SAME && Math.abs(a.y - b.y) < SAME && Math.abs(((a.turn_deg - b.turn_deg + 540) % 360) - 180) < SAME;

  /** @param {Part} part */
  function state(part) {
    const { home, offer, told } = part;
    const sure = offer ? `${Math.floor(offer.confidence * 100)} % sure` : "";
    if (home && offer && same(home, offer.home)) return `in its place, ${sure}`;
    if (home && offer) return `put in place by hand; the photos say otherwise, ${sure}`;
    if (home) return told ? `put in place by hand; ${told}` : "in its place";
    if (offer) return offer.sure ? sure : `${sure}: look at it`;
    return told ?? "not known";
  }

  function photos() {
    byId("underlays").replaceChildren(...scene.underlays.map((u, k) => {
      const button = element("button", { type: "button", "aria-pressed": String(k === under) }, `Stage ${u.stage}: ${u.name}`);
      button.addEventListener("click", () => {
        under = k;
        show();
      });
      return button;
    }));
    const waiting = sureOnes().length;
    const take = byId("take-sure");
    take.hidden = waiting === 0;
    take.textContent = waiting === 1 ? "Take over the sure one" : `Take over the ${waiting} sure ones`;
  }

  const sureOnes = () => scene.parts.filter((p) => p.home === null && p.offer?.sure);

  // ---- the list ----

  function list() {
    const layers = [...new Set(scene.parts.filter(seat).map(layerOf))].sort((a, b) => a - b);
    const sections = layers.map((layer, k) => {
      const parts = scene.parts.filter((p) => layerOf(p) === layer);
      const move = (/** @type {string} */ words, /** @type {number | undefined} */ other) => {
        const button = element("button", { type: "button", disabled: other === undefined, "aria-label": `Layer ${layer}: ${words}` }, words);
        button.addEventListener("click", () => other !== undefined && exchange(layer, other));
        return button;
      };
      const where = k === 0 ? ", at the front" : k === layers.length - 1 ? ", at the back" : "";
      return element("section", { class: "layer" },
        element("div", { class: "row" }, element("h2", {}, `Layer ${layer}${where}`), move("forward", layers[k - 1]), move("back", layers[k + 1])),
        element("ol", {}, ...parts.map(item)));
    });
    const lost = scene.parts.filter((p) => !seat(p));
    if (lost.length > 0) sections.push(element("section", { class: "layer" }, element("h2", {}, "No home yet"), element("ol", {}, ...lost.map(item))));
    const words = (scene.findings ?? []).map((f) => element("li", { class: f.level }, element("strong", {}, f.text), " ", f.remedy));
    if (words.length > 0) sections.push(element("section", { class: "layer" }, element("h2", {}, "What the photos leave open"), element("ul", { class: "left-open" }, ...words)));
    seats.replaceChildren(...sections);
  }

  /** @param {Part} part */
  function item(part) {
    const name = element("button", { type: "button", class: "seat-name", "aria-pressed": String(part.id === chosen) }, element("span", { class: "item" }, String(part.number)), ` ${part.name}`);
    name.addEventListener("click", () => choose(part.id));
    const line = element("li", { "data-item": part.id }, element("div", { class: "row" }, name, ...doings(part)), element("span", { class: "soft" }, state(part)));
    line.classList.toggle("chosen", part.id === chosen);
    if (part.id === chosen && seat(part)) {
      const layer = element("input", { type: "number", min: 0, max: 1000, step: 1, value: layerOf(part) });
      layer.addEventListener("change", () => {
        const n = Number(layer.value);
        if (Number.isInteger(n) && n >= 0 && n <= 1000) keep(part, { layer: n });
        else layer.reportValidity();
      });
      const forget = element("button", { type: "button" }, "Not known");
      forget.addEventListener("click", () => saver.add([know(part, null)]));
      line.append(element("div", { class: "row" }, element("label", { class: "inline" }, "Layer", layer), ...(part.home ? [forget] : [])));
    }
    return line;
  }

  /** @param {Part} part */
  function doings(part) {
    const { home, offer } = part;
    if (offer && !(home && same(home, offer.home))) {
      const take = element("button", { type: "button", "aria-label": `Take over the home of ${part.name}` }, "Take over");
      take.addEventListener("click", () => saver.add([know(part, offer.home)]));
      return [take];
    }
    if (home) return [];
    const put = element("button", { type: "button", "aria-label": `Put ${part.name} in by hand` }, "Put it in");
    put.addEventListener("click", () => {
      const at = middle(part.rings[0]);
      chosen = part.id;
      saver.add([know(part, { x: size[0] / 2 - at[0], y: size[1] / 2 - at[1], turn_deg: 0, layer: 0 })]);
      say(`${part.name} lies in the middle of the device; move it to its place`);
    });
    return [put];
  }

  // ---- doing ----

  /** @param {Part} part @param {Home | null} home */
  const know = (part, home) => ({ do: "know", part: part.id, what: { home } });

  /** @param {Part} part @param {Partial<Home>} change @param {string | null} [gesture] */
  function keep(part, change, gesture = null) {
    const at = seat(part);
    if (!at) return;
    part.home = { ...at, ...change };
    show();
    saver.add([know(part, part.home)], gesture);
  }

  /** Two layers change places. @param {number} a @param {number} b */
  function exchange(a, b) {
    const moved = scene.parts.filter((p) => p.home && (p.home.layer === a || p.home.layer === b));
    saver.add(moved.map((p) => know(p, { .../** @type {Home} */ (p.home), layer: /** @type {Home} */ (p.home).layer === a ? b : a })));
  }

  /** @param {string} id */
  function choose(id) {
    chosen = id;
    show();
    seats.querySelector("li.chosen")?.scrollIntoView({ block: "nearest" });
  }

  /** @param {Part} part @param {number} by */
  function turn(part, by) {
    const at = seat(part);
    if (!at) return;
    const { x, y, turn } = turnedAbout(poseOf(at), middle(ringsOf(part)[0]), at.turn_deg + (scene.from_behind ? -by : by));
    keep(part, { x, y, turn_deg: turn }, `turn ${part.id}`);
  }

  svg.addEventListener("keydown", (event) => {
    const id = event.target instanceof Element ? event.target.getAttribute("data-part") : null;
    const part = scene.parts.find((p) => p.id === id);
    if (!part || event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    const fine = event.shiftKey ? 0.1 : 1;
    if (arrow) {
      const at = /** @type {Home} */ (seat(part));
      keep(part, { x: at.x + arrow[0] * fine * (scene.from_behind ? -1 : 1), y: at.y + arrow[1] * fine }, `move ${part.id}`);
    } else if (event.key === "," || event.key === "<" || event.key === ";") turn(part, fine);
    else if (event.key === "." || event.key === ">" || event.key === ":") turn(part, -fine);
    else if (event.key === "Enter" && part.offer && !part.home) saver.add([know(part, part.offer.home)]);
    else if (event.key === "Enter" || event.key === " ") choose(part.id);
    else return;
    event.preventDefault();
  });

  svg.addEventListener("pointerdown", (event) => {
    const path = event.target instanceof Element ? event.target.closest("[data-part]") : null;
    const part = scene.parts.find((p) => p.id === path?.getAttribute("data-part"));
    const m = svg.getScreenCTM();
    if (event.button !== 0 || !part || !m) return;
    event.preventDefault();
    const from = /** @type {Home} */ (seat(part));
    let at = from;
    choose(part.id);
    const taken = /** @type {SVGElement | null} */ (svg.querySelector(`[data-part="${CSS.escape(part.id)}"]`));
    taken?.focus({ preventScroll: true });
    svg.setPointerCapture(event.pointerId);
    const onMove = (/** @type {PointerEvent} */ e) => {
      const dx = (e.clientX - event.clientX) / m.a, dy = -(e.clientY - event.clientY) / m.d;
      at = { ...from, x: from.x + (scene.from_behind ? -dx : dx), y: from.y + dy };
      taken?.setAttribute("transform", `translate(${at.x} ${at.y}) rotate(${at.turn_deg})`);
    };
    const end = (/** @type {boolean} */ kept) => {
      svg.removeEventListener("pointermove", onMove);
      svg.removeEventListener("pointerup", onUp);
      svg.removeEventListener("pointercancel", onCancel);
      if (kept && Math.hypot(at.x - from.x, at.y - from.y) > SAME) keep(part, { x: at.x, y: at.y });
      else show();
    };
    const onUp = () => end(true), onCancel = () => end(false);
    svg.addEventListener("pointermove", onMove);
    svg.addEventListener("pointerup", onUp);
    svg.addEventListener("pointercancel", onCancel);
  });

  byId("take-sure").addEventListener("click", () => saver.add(sureOnes().map((p) => know(p, /** @type {Offer} */ (p.offer).home))));

  byId("find").addEventListener("click", async () => {
    const button = /** @type {HTMLButtonElement} */ (byId("find"));
    button.disabled = true;
    try {
      await saver.settled();
      const side = /** @type {HTMLSelectElement} */ (byId("opened-from")).value;
      const { go } = await work(`/piece/${piece}/homes`, { opened_from: side }, byId("job"));
      location.assign(go);
    } catch (e) {
      if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
    } finally {
      button.disabled = false;
    }
  });

  onChoice((parts) => {
    const id = parts.find((p) => scene.parts.some((q) => q.id === p));
    if (id === undefined) return false;
    choose(id);
    return true;
  });

  load();
}
