// The board: choose, drag, turn, nudge, align, arrange.
// @ts-check
import { Trouble, ask } from "./send.js";
import { byId, draw, say, showTrouble } from "./page.js";
import { beforeSteps, onState, piece as pieceId, stand, standsAt } from "./bench.js";
import { onChoice } from "./docket.js";
import { work } from "./jobs.js";
import { said } from "./lengths.js";
import { nearestOf, turnedAbout } from "./geometry.js";
import { Saver } from "./saver.js";
import { View } from "./board-view.js";
import { About } from "./board-about.js";
import { Label } from "./board-label.js";
import { Frames } from "./board-frames.js";

/** @typedef {import("./geometry.js").Pose} Pose */

/** A pointer that moved less than this only chose, px. */
const SLACK = 4;

/** The label's numbers follow what is held in one of so many pictures: nobody reads faster, and each lays out the label anew. */
const READ_EVERY = 4;

/** @param {() => void} act  Done at every fourth call. */
function seldom(act) {
  let calls = 0;
  return () => {
    if (calls++ % READ_EVERY === 0) act();
  };
}

/** How far the arc that turns a part is off its corner, and how long it is, px. */
const ARC_OFF = 8, ARC_LONG = 28;

/** Clearances up to this are shown beside a part that is held, mm. */
const WORTH_SHOWING = 40;

const hanging = document.getElementById("hanging");
if (hanging) start(hanging);
else startEmpty();

/** No part lies on the board yet: what is said of the piece as a whole can be said all the same. */
function startEmpty() {
  const saver = new Saver(byId("saved"), (answer) => (answer ? about.show(answer) : void load()));
  const about = new About((edits) => saver.add(edits));
  beforeSteps(() => saver.settled());
  onState((state) => about.show(state));

  async function load() {
    try {
      const scene = await ask(`/piece/${pieceId}/board.json`);
      stand(scene);
      about.show(scene);
      document.body.dataset.ready = "";
    } catch (e) {
      showTrouble(e, load);
    }
  }
  void load();
}

/** @param {HTMLElement} hanging */
function start(hanging) {
  const view = new View(hanging);
  /** @type {string[]} */
  let chosen = [];
  /** What the section's keys move: the chosen parts or a caption. @type {string | null} */
  let caption = null;

  const saver = new Saver(byId("saved"), (answer) => (answer ? take(answer) : reload()));
  beforeSteps(() => saver.settled());

  const deeds = { place, turn, edit: (/** @type {any[]} */ edits) => saver.add(edits), choose, align, put, near };
  const label = new Label(byId("label"), view, deeds);
  const about = new About(deeds.edit);

  /** A part, a caption or the arc is held: the board is not drawn anew under the hand. */
  let holding = false;
  /** @type {any} */
  let late = null;

  /** @param {any} answer */
  function take(answer) {
    if (holding) {
      late = answer;
      return;
    }
    const focus = document.activeElement?.closest("[data-part], [data-caption]");
    const [part, text] = [focus?.getAttribute("data-part"), focus?.getAttribute("data-caption")];
    view.show(answer);
    about.show(answer);
    // Whoever works by keyboard stays where they were.
    if (part && document.activeElement === document.body) view.pieces.get(part)?.group.focus({ preventScroll: true });
    if (text) view.texts.get(text)?.group.focus({ preventScroll: true });
    chosen = chosen.filter((id) => view.pieces.has(id));
    mark();
    label.show(chosen);
  }

  async function reload() {
    try {
      const scene = await ask(`/piece/${pieceId}/board.json`);
      stand(scene);
      take(scene);
      label.show(chosen, true);
    } catch (e) {
      showTrouble(e, reload);
    }
  }

  onState((state) => {
    take(state);
    label.show(chosen, true);
  });

  // ---- choosing ----

  /** @param {string[]} ids */
  function choose(ids) {
    chosen = ids.filter((id) => view.pieces.has(id));
    caption = null;
    mark();
    label.show(chosen, true);
    view.over.replaceChildren();
    if (chosen.length === 1) arc(chosen[0]);
  }

  function mark() {
    let stop = true;
    for (const [id, p] of view.pieces) {
      const is = chosen.includes(id);
      p.group.classList.toggle("chosen", is);
      p.bar.classList.toggle("chosen", is);
      p.group.setAttribute("aria-pressed", String(is));
      // One part is in the order of tabs: the chosen one, or the first.
      const tab = is && stop;
      p.group.setAttribute("tabindex", tab ? "0" : "-1");
      if (tab) stop = false;
    }
    if (stop) inOrder()[0]?.group.setAttribute("tabindex", "0");
  }

  const inOrder = () => [...view.pieces.values()].filter((p) => p.pose !== null).sort((a, b) => a.part.number - b.part.number);

  onChoice((parts) => {
    const there = parts.filter((id) => view.pieces.get(id));
    if (there.length === 0) return false;
    choose(there);
    const first = view.pieces.get(there[0]);
    first?.group.scrollIntoView({ block: "center", inline: "center", behavior: "instant" });
    first?.group.focus({ preventScroll: true });
    return true;
  });

  // ---- clearance ----

  /** @param {string} id */
  function near(id) {
    const mover = view.pieces.get(id);
    if (!mover?.pose) return null;
    return nearestOf(mover.tree, others([id]));
  }

  /** @param {string[]} ids @returns {[string, import("./geometry.js").Tree][]} */
  function others(ids) {
    return [...view.pieces].filter(([id, p]) => p.pose !== null && !ids.includes(id)).map(([id, p]) => [id, p.tree]);
  }

  const gauge = draw("g", { class: "gauge" });
  const gaugeLine = draw("path"), gaugeWords = draw("text");
  gauge.append(gaugeLine, gaugeWords);

  /** Shows the clearance of what is held. @param {string[]} held @param {[string, import("./geometry.js").Tree][]} still */
  function showClearance(held, still) {
    const gap = view.scene.layout.gap_mm;
    let best = null;
    for (const id of held) {
      const p = view.pieces.get(id);
      if (!p) continue;
      const found = nearestOf(p.tree, still, best?.distance ?? WORTH_SHOWING);
      view.clash(id, found !== null && found.distance < gap - 1e-6);
      if (found) best = found;
    }
    if (best === null) {
      gauge.remove();
      return;
    }
    const { from, to, distance } = best;
    gaugeLine.setAttribute("d", `M${from[0]} ${-from[1]}L${to[0]} ${-to[1]}`);
    gaugeWords.setAttribute("x", String((from[0] + to[0]) / 2 + 1.5));
    gaugeWords.setAttribute("y", String(-(from[1] + to[1]) / 2 - 1.5));
    gaugeWords.textContent = distance === 0 ? `on ${view.pieces.get(best.id)?.part.name}` : said(Math.floor(distance * 100) / 100, 2);
    gauge.classList.toggle("bad", distance < gap - 1e-6);
    if (!gauge.isConnected) view.aloft.append(gauge);
  }

  // ---- doing ----

  /** @param {string} id @param {Pose} pose @param {string | null} [gesture] */
  function place(id, pose, gesture = null) {
    view.move(id, pose);
    view.rename(id);
    label.follow(id);
    if (chosen.length === 1) arc(id);
    saver.add([{ do: "place", part: id, x: pose.x, y: pose.y, turn_deg: pose.turn }], gesture);
  }

  /** @param {string} id @param {number} by @param {string | null} [gesture] */
  function turn(id, by, gesture = null) {
    const p = view.pieces.get(id);
    if (p?.pose) place(id, turnedAbout(p.pose, p.middle, p.pose.turn + by), gesture);
  }

  /** Puts a part that has no place yet in the middle of the field; settling finds it room. @param {string} id */
  function put(id) {
    const p = view.pieces.get(id);
    if (!p) return;
    const [x0, y0, x1, y1] = view.scene.field;
    saver.add([
      { do: "place", part: id, x: (x0 + x1) / 2 - p.middle[0], y: (y0 + y1) / 2 - p.middle[1], turn_deg: 0 },
      { do: "write_caption", part: id, text: p.part.name },
    ]);
    choose([id]);
    say(`${p.part.name} lies in the middle of the board; settle finds it room`);
  }

  /** @param {string} way */
  function align(way) {
    const held = chosen.map((id) => view.pieces.get(id)).flatMap((p) => (p?.pose ? [p] : []));
    if (way === "pin" || way === "loose") {
      saver.add(held.map((p) => ({ do: "pin", part: p.part.id, pinned: way === "pin" })));
      return;
    }
    const boxes = held.map((p) => p.tree.bounds);
    const lowest = (/** @type {number} */ k) => Math.min(...boxes.map((b) => b[k])), highest = (/** @type {number} */ k) => Math.max(...boxes.map((b) => b[k]));
    const shifts = held.map(() => [0, 0]);
    const middle = (/** @type {number} */ k) => (lowest(k) + highest(k + 2)) / 2;
    if (way === "across" || way === "upright") {
      const k = way === "across" ? 0 : 1;
      const order = held.map((_, i) => i).sort((i, j) => boxes[i][k] + boxes[i][k + 2] - boxes[j][k] - boxes[j][k + 2]);
      const filled = boxes.reduce((sum, b) => sum + b[k + 2] - b[k], 0);
      const gap = (highest(k + 2) - lowest(k) - filled) / (held.length - 1);
      let at = lowest(k);
      for (const i of order) {
        shifts[i][k] = at - boxes[i][k];
        at += boxes[i][k + 2] - boxes[i][k] + gap;
      }
    } else {
      boxes.forEach((b, i) => {
        if (way === "left") shifts[i][0] = lowest(0) - b[0];
        if (way === "right") shifts[i][0] = highest(2) - b[2];
        if (way === "foot") shifts[i][1] = lowest(1) - b[1];
        if (way === "top") shifts[i][1] = highest(3) - b[3];
        if (way === "middle-x") shifts[i][0] = middle(0) - (b[0] + b[2]) / 2;
        if (way === "middle-y") shifts[i][1] = middle(1) - (b[1] + b[3]) / 2;
      });
    }
    const edits = held.map((p, i) => {
      const pose = /** @type {Pose} */ (p.pose);
      const to = { ...pose, x: pose.x + shifts[i][0], y: pose.y + shifts[i][1] };
      view.move(p.part.id, to);
      view.rename(p.part.id);
      return { do: "place", part: p.part.id, x: to.x, y: to.y, turn_deg: to.turn };
    });
    saver.add(edits);
  }

  // ---- the pointer ----

  view.svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !(event.target instanceof Element)) return;
    const text = event.target.closest("[data-caption]"), group = event.target.closest("[data-part]");
    if (event.target.closest(".turner")) holdArc(event);
    else if (text instanceof SVGElement) holdCaption(event, text.dataset.caption ?? "");
    else if (group instanceof SVGElement) holdParts(event, group.dataset.part ?? "");
    else if (!event.shiftKey) choose([]);
  });

  /**
   * Follows the pointer until it is let go, once in each picture that the screen shows.
   * @param {PointerEvent} event @param {(x: number, y: number) => void} moved @param {(how: "let go" | "left") => void} ended
   */
  function hold(event, moved, ended) {
    const start = [event.clientX, event.clientY];
    let at = start, asked = 0, going = false;
    view.svg.setPointerCapture(event.pointerId);
    view.svg.classList.add("holding");
    holding = true;
    const step = () => {
      asked = 0;
      moved(at[0], at[1]);
    };
    const onMove = (/** @type {PointerEvent} */ e) => {
      if (e.pointerId !== event.pointerId) return;
      at = [e.clientX, e.clientY];
      if (!going && Math.hypot(at[0] - start[0], at[1] - start[1]) < SLACK) return;
      going = true;
      if (asked === 0) asked = requestAnimationFrame(step);
    };
    const end = (/** @type {"let go" | "left"} */ how) => {
      if (asked !== 0) {
        cancelAnimationFrame(asked);
        if (how === "let go") step();
      }
      view.svg.removeEventListener("pointermove", onMove);
      view.svg.removeEventListener("pointerup", onUp);
      view.svg.removeEventListener("pointercancel", onCancel);
      document.removeEventListener("keydown", onKey, true);
      gauge.remove();
      view.svg.classList.remove("holding");
      holding = false;
      ended(going ? how : "left");
      // What another window did meanwhile; what this one did is on its way and comes back with it.
      if (late !== null && saver.idle) take(late);
      late = null;
    };
    const onUp = (/** @type {PointerEvent} */ e) => e.pointerId === event.pointerId && end("let go");
    const onCancel = () => end("left");
    const onKey = (/** @type {KeyboardEvent} */ e) => {
      if (e.key !== "Escape") return;
      e.stopPropagation();
      end("left");
    };
    view.svg.addEventListener("pointermove", onMove);
    view.svg.addEventListener("pointerup", onUp);
    view.svg.addEventListener("pointercancel", onCancel);
    document.addEventListener("keydown", onKey, true);
  }

  /** @param {PointerEvent} event @param {string} id */
  function holdParts(event, id) {
    if (event.shiftKey) {
      choose(chosen.includes(id) ? chosen.filter((c) => c !== id) : [...chosen, id]);
      return;
    }
    if (!chosen.includes(id)) choose([id]);
    view.pieces.get(id)?.group.focus({ preventScroll: true });
    event.preventDefault();
    const held = chosen.filter((c) => view.pieces.get(c)?.pose);
    const from = new Map(held.map((c) => [c, { .../** @type {Pose} */ (view.pieces.get(c)?.pose) }]));
    const captions = new Map(held.map((c) => [c, structuredClone(view.texts.get(c)?.caption)]));
    const still = others(held);
    const [x0, y0] = view.toBoard(event.clientX, event.clientY);
    view.lift(held);
    view.over.replaceChildren();
    const follow = seldom(() => held.length === 1 && label.follow(id));
    hold(event, (cx, cy) => {
      const [x, y] = view.toBoard(cx, cy);
      for (const [c, pose] of from) view.move(c, { ...pose, x: pose.x + x - x0, y: pose.y + y - y0 });
      showClearance(held, still);
      follow();
    }, (how) => {
      view.lower();
      if (how === "left") {
        for (const [c, pose] of from) {
          view.move(c, pose);
          const text = view.texts.get(c), was = captions.get(c);
          if (text && was) Object.assign(text.caption, was);
          view.move(c, pose);
        }
      } else {
        saver.add(held.map((c) => {
          const pose = /** @type {Pose} */ (view.pieces.get(c)?.pose);
          view.rename(c);
          return { do: "place", part: c, x: pose.x, y: pose.y, turn_deg: pose.turn };
        }));
      }
      if (chosen.length === 1) arc(chosen[0]);
      label.follow(id);
    });
  }

  /** @param {PointerEvent} event @param {string} id */
  function holdCaption(event, id) {
    const text = view.texts.get(id);
    if (!text) return;
    event.preventDefault();
    takeCaption(id);
    const was = structuredClone(text.caption);
    const [x0, y0] = view.toBoard(event.clientX, event.clientY);
    view.liftCaption(id);
    hold(event, (cx, cy) => {
      const [x, y] = view.toBoard(cx, cy);
      view.moveCaption(id, was.x + x - x0, was.y + y - y0);
    }, (how) => {
      view.lower();
      if (how === "left") {
        Object.assign(text.caption, was);
        view.moveCaption(id, was.x, was.y);
      } else saver.add([{ do: "move_caption", part: id, x: text.caption.x, y: text.caption.y }]);
    });
  }

  /** @param {string} id */
  function takeCaption(id) {
    choose([id]);
    caption = id;
    view.over.replaceChildren();
    view.texts.get(id)?.group.focus({ preventScroll: true });
  }

  // ---- the arc that turns a part ----

  /** Beyond the part's lower right corner, about its middle: it goes round as the part does. @param {string} id */
  function arc(id) {
    const p = view.pieces.get(id);
    if (!p?.pose) return;
    const [x0, y0, x1, y1] = p.tree.bounds;
    const px = 1 / view.scale;
    const cx = (x0 + x1) / 2, cy = (y0 + y1) / 2;
    const r = Math.hypot(x1 - x0, y1 - y0) / 2 + ARC_OFF * px;
    const corner = Math.atan2(y0 - cy, x1 - cx), half = ARC_LONG * px / 2 / r;
    const at = (/** @type {number} */ angle) => `${cx + r * Math.cos(angle)} ${-(cy + r * Math.sin(angle))}`;
    const d = `M${at(corner - half)}A${r} ${r} 0 0 0 ${at(corner + half)}`;
    view.over.replaceChildren(draw("g", { class: "turner" }, ...["reach", "rim", "brass"].map((kind) => draw("path", { class: kind, d }))));
  }

  /** @param {PointerEvent} event */
  function holdArc(event) {
    const id = chosen[0], p = view.pieces.get(id);
    if (!p?.pose) return;
    event.preventDefault();
    const was = { ...p.pose };
    const still = others([id]);
    const [x0, y0, x1, y1] = p.tree.bounds;
    const centre = [(x0 + x1) / 2, (y0 + y1) / 2];
    const angle = (/** @type {number} */ cx, /** @type {number} */ cy) => {
      const [x, y] = view.toBoard(cx, cy);
      return Math.atan2(y - centre[1], x - centre[0]) * 180 / Math.PI;
    };
    const from = angle(event.clientX, event.clientY);
    view.lift([id]);
    view.over.replaceChildren();
    const follow = seldom(() => label.follow(id));
    hold(event, (cx, cy) => {
      const free = was.turn + angle(cx, cy) - from;
      const step = p.part.turns === "free" ? 1 : 90;
      view.move(id, turnedAbout(was, p.middle, Math.round(free / step) * step));
      showClearance([id], still);
      follow();
    }, (how) => {
      view.lower();
      const pose = how === "left" ? was : /** @type {Pose} */ (p.pose);
      view.move(id, was);
      if (how === "let go") place(id, pose);
      else arc(id);
    });
  }

  // ---- keys ----

  view.svg.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !(event.target instanceof Element)) return;
    const text = event.target.closest("[data-caption]"), group = event.target.closest("[data-part]");
    const id = text instanceof SVGElement ? text.dataset.caption : group instanceof SVGElement ? group.dataset.part : undefined;
    if (id === undefined) return;
    const done = text ? captionKey(event, id) : partKey(event, id);
    if (done) event.preventDefault();
  });

  const ARROWS = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] });

  /** @param {KeyboardEvent} event @param {string} id */
  function partKey(event, id) {
    const fine = event.shiftKey ? 0.1 : 1;
    const arrow = ARROWS[event.key];
    if (arrow || [",", ".", "<", ">", ";", ":"].includes(event.key) || event.key.toLowerCase() === "t") {
      if (!chosen.includes(id)) choose([id]);
    }
    if (arrow) {
      for (const c of chosen) {
        const p = view.pieces.get(c);
        if (!p?.pose) continue;
        view.move(c, { ...p.pose, x: p.pose.x + arrow[0] * fine, y: p.pose.y + arrow[1] * fine });
        view.rename(c);
      }
      const edits = chosen.flatMap((c) => {
        const pose = view.pieces.get(c)?.pose;
        return pose ? [{ do: "place", part: c, x: pose.x, y: pose.y, turn_deg: pose.turn }] : [];
      });
      saver.add(edits, `nudge ${chosen.join(" ")}`);
      label.follow(id);
      if (chosen.length === 1) arc(id);
      return true;
    }
    switch (event.key) {
      case ",": case "<": case ";":
        turn(id, fine, `turn ${id}`);
        return true;
      case ".": case ">": case ":":
        turn(id, -fine, `turn ${id}`);
        return true;
      case "t": case "T":
        turn(id, event.shiftKey ? -90 : 90);
        return true;
      case "p": case "P":
        saver.add([{ do: "pin", part: id, pinned: !view.pieces.get(id)?.pinned }]);
        return true;
      case "c": case "C":
        if (view.texts.has(id)) takeCaption(id);
        return true;
      case "Delete":
        saver.add(chosen.map((part) => ({ do: "take_off", part })));
        return true;
      case " ": case "Enter":
        choose(chosen.includes(id) ? chosen.filter((c) => c !== id) : [...chosen, id]);
        view.pieces.get(id)?.group.focus({ preventScroll: true });
        return true;
      case "Escape":
        choose([]);
        return true;
      case "PageDown": case "PageUp": case "Home": case "End": {
        const all = inOrder(), k = all.findIndex((p) => p.part.id === id);
        const to = event.key === "Home" ? 0 : event.key === "End" ? all.length - 1 : (k + (event.key === "PageDown" ? 1 : -1) + all.length) % all.length;
        choose([all[to].part.id]);
        all[to].group.focus();
        return true;
      }
      default:
        return false;
    }
  }

  /** @param {KeyboardEvent} event @param {string} id */
  function captionKey(event, id) {
    const text = view.texts.get(id);
    const arrow = ARROWS[event.key];
    if (text && arrow) {
      const fine = event.shiftKey ? 0.1 : 1;
      view.moveCaption(id, text.caption.x + arrow[0] * fine, text.caption.y + arrow[1] * fine);
      saver.add([{ do: "move_caption", part: id, x: text.caption.x, y: text.caption.y }], `nudge caption ${id}`);
      return true;
    }
    if (event.key.toLowerCase() === "c" || event.key === "Escape") {
      choose([id]);
      view.pieces.get(id)?.group.focus({ preventScroll: true });
      return true;
    }
    if (event.key === "Delete") {
      saver.add([{ do: "write_caption", part: id, text: "" }]);
      return true;
    }
    return false;
  }

  // ---- long work ----

  const job = byId("job");
  const buttons = ["arrange", "settle", "frames"].map((id) => /** @type {HTMLButtonElement} */ (byId(id)));

  /** @param {string} url @param {any} data @returns {Promise<any>} */
  async function long(url, data) {
    for (const b of buttons) b.disabled = true;
    try {
      await saver.settled();
      return await work(url, data, job);
    } catch (e) {
      if (!(e instanceof Trouble && e.status === -1)) showTrouble(e);
      else say(e.problem);
      return null;
    } finally {
      for (const b of buttons) b.disabled = false;
    }
  }

  for (const [id, keep] of /** @type {[string, boolean][]} */ ([["arrange", false], ["settle", true]])) {
    byId(id).addEventListener("click", async () => {
      const answer = await long(`/piece/${pieceId}/arrange`, { keep });
      if (!answer) return;
      stand(answer);
      take(answer);
      if (answer.uncaptioned > 0) say(`${answer.uncaptioned} captions found no room`);
    });
  }

  const frames = new Frames(byId("frames"), (choice) => {
    saver.add([{ do: "frame", frame: choice.frame, placements: choice.placements, captions: choice.captions }]);
  });
  byId("frames").addEventListener("click", async () => {
    const answer = await long(`/piece/${pieceId}/frames`, {});
    if (answer) frames.show(answer.frames);
  });

  for (const button of document.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => {
      view.zoom = Number(/** @type {HTMLElement} */ (button).dataset.zoom);
      for (const other of document.querySelectorAll("[data-zoom]")) other.setAttribute("aria-pressed", String(other === button));
      view.fit();
      if (chosen.length === 1) arc(chosen[0]);
    });
  }

  // ---- other windows ----

  const news = new EventSource(`/piece/${pieceId}/news`);
  news.addEventListener("piece", (event) => {
    const { number } = JSON.parse(event.data);
    // Our own edits come back too; so does work that goes on, whose result is on its way.
    if (number === standsAt() || !saver.idle || holding || !job.hidden) return;
    setTimeout(() => {
      if (number !== standsAt() && saver.idle && !holding && job.hidden) reload();
    }, 250);
  });
  window.addEventListener("pagehide", () => news.close());

  // ---- to begin with ----

  ask(`/piece/${pieceId}/board.json`).then((scene) => {
    label.drafts.bring(scene.drafts);
    stand(scene);
    take(scene);
    const wanted = new URLSearchParams(location.search).get("part");
    if (wanted && view.pieces.has(wanted)) {
      choose([wanted]);
      view.pieces.get(wanted)?.group.focus();
    } else label.show([]);
    document.body.dataset.ready = "";
  }).catch((e) => showTrouble(e, () => location.reload()));
}
