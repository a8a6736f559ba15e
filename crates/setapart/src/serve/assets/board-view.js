// The frame as it will hang, drawn in mm: moulding, mount board, parts, captions, and the section below it.
// @ts-check
import { Tree, carry } from "./geometry.js";
import { number, said } from "./lengths.js";
import { draw } from "./page.js";

/** @typedef {import("./geometry.js").Pose} Pose */
/**
 * @typedef {{id: string, number: number, name: string, kind: string, outer: [number, number][], holes: [number, number][][],
 *   thickness_mm: number | null, turns: string, group: string | null, stand_in: {form: string, why: string} | null,
 *   hazards: string[], cutout: {image: string, px_per_mm: number, origin_mm: [number, number]} | null}} Part
 * @typedef {{part: string, x: number, y: number, turn_deg: number, pinned: boolean}} Placement
 * @typedef {{part: string, text: string, x: number, y: number, w: number, h: number, leader: [number, number][],
 *   letter_mm: number, em_mm: number, pitch_mm: number, indent_mm: number}} Caption
 * @typedef {{frame: any, window: number[], field: number[], board: number[], layout: any, placements: Placement[],
 *   captions: Caption[], axes: [[number, number], [number, number]][], parts: Part[], revision: number, name: string}} Scene
 * @typedef {{part: Part, tree: Tree, pose: Pose | null, pinned: boolean, group: SVGGElement, bar: SVGRectElement,
 *   middle: [number, number], aloft: {group: SVGGElement, bar: SVGRectElement} | null}} Piece
 * @typedef {{caption: Caption, group: SVGGElement, aloft: SVGGElement | null}} Text
 */

/** Width of the moulding, mm: as the preview has it. */
const MOULDING = 19;

/** Wall round the frame, mm. */
const WALL = 10;

/** Height that a part is drawn with in the section where nobody measured it, mm. */
const UNKNOWN_HEIGHT = 2;

/** @param {number} v */
const f = (v) => v.toFixed(3);

/** A ring as path data, y up. @param {[number, number][]} ring */
function path(ring) {
  return ring.map(([x, y], k) => `${k === 0 ? "M" : "L"}${f(x)} ${f(-y)}`).join("") + "Z";
}

/** @param {number[]} b  Least and greatest x and y. @param {string} kind */
function box(b, kind) {
  return draw("rect", { class: kind, x: b[0], y: -b[3], width: b[2] - b[0], height: b[3] - b[1] });
}

export class View {
  /** @param {HTMLElement} place */
  constructor(place) {
    this.place = place;
    /** @type {Scene} */
    this.scene = { frame: {}, window: [0, 0, 1, 1], field: [0, 0, 1, 1], board: [0, 0, 1, 1], layout: { keep_outs: [], gap_mm: 0 }, placements: [], captions: [], axes: [], parts: [], revision: 0, name: "" };
    /** The frame's outer edge, mm. @type {number[] | null} */
    this.out = null;
    /** Level of the mount board's face in the section, and where the drawing ends, mm down. */
    this.level = 0;
    this.below = 0;
    this.svg = draw("svg", { class: "board", role: "group", "aria-label": "The board, seen from the front" });
    this.under = draw("g", { "aria-hidden": "true" });
    this.parts = draw("g", { class: "parts" });
    this.captions = draw("g", { class: "captions" });
    this.over = draw("g", { class: "over", "aria-hidden": "true" });
    this.section = draw("g", { class: "section" });
    this.svg.append(this.under, this.parts, this.captions, this.section, this.over);
    // What is held is drawn on a sheet of its own over the board, so that the board is not painted again in each picture.
    this.aloft = draw("svg", { class: "aloft board", "aria-hidden": "true" });
    const stage = document.createElement("div");
    stage.className = "stage";
    stage.append(this.svg, this.aloft);
    place.replaceChildren(stage);
    /** @type {Map<string, Piece>} */
    this.pieces = new Map();
    /** @type {Map<string, Text>} */
    this.texts = new Map();
    /** Pixels on the screen for a mm. */
    this.scale = 1;
    this.zoom = 1;
    this.resized = new ResizeObserver(() => this.fit());
    this.resized.observe(place);
  }

  /** Shows a scene; parts are made anew where it brings them. @param {Scene} scene */
  show(scene) {
    this.scene = { ...this.scene, ...scene };
    if (scene.parts) this.#makeParts(scene.parts);
    this.#drawFrame();
    for (const piece of this.pieces.values()) piece.pose = null;
    for (const p of scene.placements) {
      const piece = this.pieces.get(p.part);
      if (!piece) continue;
      piece.pinned = p.pinned;
      this.#put(piece, { x: p.x, y: p.y, turn: p.turn_deg });
    }
    for (const piece of this.pieces.values()) {
      piece.group.toggleAttribute("hidden", piece.pose === null);
      piece.bar.toggleAttribute("hidden", piece.pose === null);
      piece.group.classList.toggle("pinned", piece.pinned);
      this.#name(piece);
    }
    this.#drawCaptions(scene.captions);
    this.fit();
  }

  /** @param {Part[]} parts */
  #makeParts(parts) {
    this.pieces.clear();
    this.parts.replaceChildren();
    for (const part of parts) {
      const d = [part.outer, ...part.holes].map(path).join("");
      const group = draw("g", { class: "part", tabindex: "-1", role: "button", "data-part": part.id });
      group.append(draw("path", { class: "shade", d, transform: "translate(0.5 0.9)" }));
      const face = draw("path", { class: `face kind-${part.kind}${part.stand_in ? " stand-in" : ""}`, d });
      group.append(face);
      if (part.cutout) {
        const image = draw("image", { preserveAspectRatio: "none", "data-image": part.cutout.image });
        image.addEventListener("load", () => group.classList.add("pictured"));
        group.append(image);
      }
      group.append(draw("path", { class: "edge", d }));
      const pin = draw("g", { class: "pin" }, draw("circle", { r: 2 }), draw("circle", { class: "glint", cx: -0.6, cy: -0.6, r: 0.6 }));
      group.append(pin);
      const tree = new Tree([part.outer, ...part.holes]);
      const [x0, y0, x1, y1] = tree.bounds;
      /** @type {[number, number]} */
      const middle = [(x0 + x1) / 2, (y0 + y1) / 2];
      pin.setAttribute("transform", `translate(${f(middle[0])} ${f(-middle[1])})`);
      const bar = draw("rect", { class: "bar" });
      this.pieces.set(part.id, { part, tree, pose: null, pinned: false, group, bar, middle, aloft: null });
    }
    // The largest first: what is small stays within reach.
    const sorted = [...this.pieces.values()].sort((a, b) => size(b.tree) - size(a.tree));
    this.parts.append(...sorted.map((p) => p.group));
  }

  #drawFrame() {
    const { window: w, field, layout, axes } = this.scene;
    const out = [w[0] - MOULDING, w[1] - MOULDING, w[2] + MOULDING, w[3] + MOULDING];
    const corner = (/** @type {number} */ k, /** @type {number} */ l, /** @type {string} */ kind) => draw("path", {
      class: kind, d: `M${out[k]} ${-out[l]}L${w[k]} ${-w[l]}`,
    });
    this.under.replaceChildren(
      box([out[0] - 1, out[1] - 3, out[2] + 3, out[3] - 1], "frame-shade"),
      box(out, "moulding"),
      draw("path", { class: "moulding-lit", d: `M${out[0]} ${-out[1]}L${out[0]} ${-out[3]}L${out[2]} ${-out[3]}L${w[2]} ${-w[3]}L${w[0]} ${-w[3]}L${w[0]} ${-w[1]}Z` }),
      corner(0, 1, "mitre"), corner(0, 3, "mitre"), corner(2, 1, "mitre"), corner(2, 3, "mitre"),
      box(w, "mount"),
      draw("path", { class: "mount-shade", d: `M${w[0]} ${-w[1]}L${w[0]} ${-w[3]}L${w[2]} ${-w[3]}L${w[2]} ${-w[3] + 2.5}L${w[0] + 2.5} ${-w[3] + 2.5}L${w[0] + 2.5} ${-w[1]}Z` }),
      box(field, "field"),
      ...layout.keep_outs.map((/** @type {any} */ k) => box([k.x, k.y, k.x + k.w, k.y + k.h], "keep-out")),
      ...axes.map(([a, b]) => draw("path", { class: "axis", d: `M${f(a[0])} ${f(-a[1])}L${f(b[0])} ${f(-b[1])}` })),
    );
    this.out = out;
    this.#drawSection(out, w);
  }

  /** Seen from below, drawn under the front view at the same scale. @param {number[]} out @param {number[]} w */
  #drawSection(out, w) {
    const depth = this.scene.frame.rebate_depth_mm ?? 0;
    const bars = [...this.pieces.values()].map((p) => p.bar);
    const top = Math.max(depth, ...[...this.pieces.values()].map((p) => p.part.thickness_mm ?? UNKNOWN_HEIGHT)) + 6;
    // The mount board's face lies on this level; heights grow upwards on the screen.
    this.level = -out[1] + 10 + top;
    // The title keeps its size on the screen: room for it in mm at a small scale.
    this.below = this.level + 18;
    /** @type {SVGElement[]} */
    const lines = [
      draw("rect", { class: "section-board", x: w[0], y: this.level, width: w[2] - w[0], height: 1.4 }),
      ...[out[0], w[2]].map((x) => draw("rect", { class: "moulding", x, y: this.level - Math.max(depth, 6), width: MOULDING, height: Math.max(depth, 6) + 3 })),
    ];
    const title = draw("text", { class: "section-title", x: w[0], y: this.level + 5 });
    title.textContent = depth > 0
      ? `From below: heights over the board; rebate ${said(depth)}`
      : "From below: heights over the board";
    if (depth > 0) lines.push(draw("path", { class: "glazing", d: `M${w[0]} ${this.level - depth}H${w[2]}` }));
    this.section.replaceChildren(...lines, ...bars, title);
  }

  /** Carries a part to a pose, with its bar in the section. @param {Piece} piece @param {Pose} pose */
  #put(piece, pose) {
    piece.pose = pose;
    piece.tree.place(pose);
    const { group, bar } = piece.aloft ?? piece;
    // As style, not as attribute: then nothing is laid out again while a part is held.
    group.style.transform = `translate(${f(pose.x)}px, ${f(-pose.y)}px) rotate(${f(-pose.turn)}deg)`;
    const [x0, , x1] = piece.tree.bounds;
    const height = piece.part.thickness_mm ?? UNKNOWN_HEIGHT;
    bar.style.transform = `translate(${f(x0)}px, ${f(this.level)}px)`;
    set(bar, "width", f(x1 - x0));
    set(bar, "y", f(-height));
    set(bar, "height", f(height));
    bar.classList.toggle("unknown", piece.part.thickness_mm === null);
  }

  /**
   * Takes parts off the board to be moved, with their captions: from now on copies of them on the sheet above are moved and the board
   * keeps still. @param {string[]} ids
   */
  lift(ids) {
    this.lower();
    for (const id of ids) {
      const piece = this.pieces.get(id);
      if (!piece?.pose) continue;
      piece.aloft = { group: copy(piece.group), bar: copy(piece.bar) };
      this.aloft.append(piece.aloft.bar, piece.aloft.group);
      piece.group.classList.add("away");
      piece.bar.classList.add("away");
      this.liftCaption(id);
    }
  }

  /** The same for a caption alone. @param {string} id */
  liftCaption(id) {
    const text = this.texts.get(id);
    if (!text) return;
    text.aloft = copy(text.group);
    this.aloft.append(text.aloft);
    text.group.classList.add("away");
  }

  /** Puts what is held back on the board, where it is now. */
  lower() {
    for (const piece of this.pieces.values()) {
      if (!piece.aloft) continue;
      piece.aloft = null;
      piece.group.classList.remove("away");
      piece.bar.classList.remove("away");
      if (piece.pose) this.#put(piece, piece.pose);
    }
    for (const text of this.texts.values()) {
      if (!text.aloft) continue;
      text.aloft = null;
      text.group.classList.remove("away");
      this.#placeCaption(text);
    }
    this.aloft.replaceChildren();
  }

  /** Marks a part that lies too near another, wherever it is drawn. @param {string} id @param {boolean} is */
  clash(id, is) {
    const piece = this.pieces.get(id);
    (piece?.aloft ?? piece)?.group.classList.toggle("clash", is);
  }

  /** Moves a part while it is held; captions beside it and leaders' ends go along. @param {string} id @param {Pose} pose */
  move(id, pose) {
    const piece = this.pieces.get(id);
    if (!piece || piece.pose === null) return;
    const before = piece.pose;
    this.#put(piece, pose);
    const text = this.texts.get(id);
    if (!text) return;
    const { caption } = text;
    const from = carry(before, piece.middle), to = carry(pose, piece.middle);
    if (caption.leader.length === 0) {
      caption.x += to[0] - from[0];
      caption.y += to[1] - from[1];
    } else {
      const end = caption.leader[caption.leader.length - 1];
      const own = carry({ x: 0, y: 0, turn: -before.turn }, [end[0] - before.x, end[1] - before.y]);
      caption.leader[caption.leader.length - 1] = carry(pose, own);
    }
    this.#placeCaption(text);
  }

  /** @param {Caption[]} captions */
  #drawCaptions(captions) {
    this.texts.clear();
    this.captions.replaceChildren();
    for (const caption of captions) {
      const piece = this.pieces.get(caption.part);
      const group = draw("g", { class: "caption", tabindex: "-1", role: "group", "data-caption": caption.part });
      group.setAttribute("aria-label", `${piece?.part.number ?? ""} ${caption.text.replaceAll("\n", " ")}, caption of ${piece?.part.name}`);
      const words = draw("g", { class: "words", "aria-hidden": "true", "font-size": f(caption.em_mm) });
      words.append(draw("rect", { class: "reach", x: -0.6, y: f(-caption.letter_mm - 0.6), width: f(caption.w + 1.2), height: f(caption.h + 1.2) }));
      const mark = draw("text", { class: "number", x: 0, y: 0 });
      mark.textContent = String(piece?.part.number ?? "");
      words.append(mark);
      caption.text.split("\n").forEach((line, row) => {
        const text = draw("text", { x: f(row === 0 ? caption.indent_mm : 0), y: f(row * caption.pitch_mm) });
        text.textContent = line;
        words.append(text);
      });
      group.append(draw("polyline", { class: "leader" }), draw("circle", { class: "leader-end", r: 0.45 }), words);
      /** @type {Text} */
      const text = { caption, group, aloft: null };
      this.texts.set(caption.part, text);
      this.#placeCaption(text);
      this.captions.append(group);
    }
  }

  /** @param {Text} text */
  #placeCaption({ caption, group: still, aloft }) {
    const group = aloft ?? still;
    const words = /** @type {SVGGElement} */ (group.querySelector(".words"));
    words.style.transform = `translate(${f(caption.x)}px, ${f(-(caption.y + caption.h - caption.letter_mm))}px)`;
    const leader = /** @type {SVGPolylineElement} */ (group.querySelector(".leader"));
    set(leader, "points", caption.leader.map(([x, y]) => `${f(x)},${f(-y)}`).join(" "));
    const end = /** @type {SVGCircleElement} */ (group.querySelector(".leader-end"));
    const last = caption.leader.at(-1);
    end.toggleAttribute("hidden", last === undefined);
    if (last) {
      set(end, "cx", f(last[0]));
      set(end, "cy", f(-last[1]));
    }
  }

  /** Moves a caption while it is held. @param {string} id @param {number} x @param {number} y */
  moveCaption(id, x, y) {
    const text = this.texts.get(id);
    if (!text) return;
    text.caption.x = x;
    text.caption.y = y;
    if (text.caption.leader.length > 0) text.caption.leader[0] = [x + text.caption.w / 2, y + text.caption.h / 2];
    this.#placeCaption(text);
  }

  /** What a part is and where, for people who listen. @param {Piece} piece */
  #name(piece) {
    const { part, pose } = piece;
    if (pose === null) return;
    const at = `at ${number(pose.x)}, ${said(pose.y)}, turned ${Number(pose.turn.toFixed(1))} degrees`;
    const extra = [piece.pinned ? "pinned" : "", part.stand_in ? "stand-in" : ""].filter((t) => t !== "");
    piece.group.setAttribute("aria-label", [`${part.number} ${part.name}`, at, ...extra].join(", "));
  }

  /** Names a part again after it was moved. @param {string} id */
  rename(id) {
    const piece = this.pieces.get(id);
    if (piece) this.#name(piece);
  }

  /** Fits frame and section in the place, or shows them in a size of its own. */
  fit() {
    const { out } = this;
    if (!out) return;
    const x = out[0] - WALL, y = -out[3] - WALL, w = out[2] - out[0] + 2 * WALL, h = this.below + out[3] + WALL;
    const room = this.place.getBoundingClientRect();
    const narrow = Math.min(room.width / w, Math.max(room.height, 200) / h);
    this.scale = this.zoom === 0 ? 96 / 25.4 : narrow * this.zoom;
    this.svg.setAttribute("viewBox", `${x} ${y} ${w} ${h}`);
    this.svg.setAttribute("width", f(w * this.scale));
    this.svg.setAttribute("height", f(h * this.scale));
    this.svg.style.setProperty("--px", f(1 / this.scale));
    this.aloft.setAttribute("viewBox", `${x} ${y} ${w} ${h}`);
    this.aloft.style.setProperty("--px", f(1 / this.scale));
    this.#picture();
  }

  /** Gets cut-outs as fine as the screen shows them. */
  #picture() {
    const shown = this.scale * (window.devicePixelRatio || 1);
    for (const { part, group } of this.pieces.values()) {
      if (!part.cutout) continue;
      const image = /** @type {SVGImageElement} */ (group.querySelector("image"));
      const share = shown > part.cutout.px_per_mm / 2 ? "full" : shown > part.cutout.px_per_mm / 4 ? "half" : "quarter";
      const href = `/picture/${share}/${part.cutout.image.replace("images/", "")}`;
      if (image.getAttribute("href") === href) continue;
      const { px_per_mm, origin_mm } = part.cutout;
      const probe = new Image();
      // Its size in mm is known once it is there.
      probe.addEventListener("load", () => {
        const scale = { quarter: 4, half: 2, full: 1 }[share] / px_per_mm;
        const w = probe.naturalWidth * scale, h = probe.naturalHeight * scale;
        image.setAttribute("x", f(origin_mm[0]));
        image.setAttribute("y", f(-origin_mm[1] - h));
        image.setAttribute("width", f(w));
        image.setAttribute("height", f(h));
        image.setAttribute("href", href);
      });
      probe.src = href;
    }
  }

  /** A place on the screen in mm of the board. @param {number} clientX @param {number} clientY @returns {[number, number]} */
  toBoard(clientX, clientY) {
    const m = this.svg.getScreenCTM();
    if (!m) return [0, 0];
    return [(clientX - m.e) / m.a, -(clientY - m.f) / m.d];
  }
}

/**
 * A copy that is looked at only: nothing finds it by the part's name, and no key reaches it.
 * @template {SVGElement} E
 * @param {E} of @returns {E}
 */
function copy(of) {
  const made = /** @type {E} */ (of.cloneNode(true));
  for (const name of ["data-part", "data-caption", "tabindex", "role", "aria-label", "aria-pressed"]) made.removeAttribute(name);
  return made;
}

/** Sets an attribute where it is another than before. @param {Element} of @param {string} name @param {string} value */
function set(of, name, value) {
  if (of.getAttribute(name) !== value) of.setAttribute(name, value);
}

/** @param {Tree} tree */
function size(tree) {
  const [x0, y0, x1, y1] = tree.bounds;
  return (x1 - x0) * (y1 - y0);
}
