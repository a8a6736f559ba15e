// The page's clearances against closed forms and against the program's own measure of the outlines.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { Tree, nearest, nearestOf, turnedAbout } from "../../crates/setapart/src/serve/assets/geometry.js";
import { binary, ended, post, start } from "../app.js";

export const before = () => start();

export async function after(app) {
  await app.stop();
  app.clear();
}

const square = (x, y, side = 10) => [[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
const tree = (...rings) => new Tree(rings);

export const tests = {
  "squares beside each other are as far apart as they were drawn"() {
    assert.equal(nearest(tree(square(0, 0)), tree(square(13, 0))).distance, 3);
    assert.ok(Math.abs(nearest(tree(square(0, 0)), tree(square(13, 14))).distance - 5) < 1e-12);
  },

  "what overlaps, touches or lies inside is 0 apart; what lies in a hole is not"() {
    assert.equal(nearest(tree(square(0, 0)), tree(square(5, 5))).distance, 0);
    assert.equal(nearest(tree(square(0, 0)), tree(square(10, 0))).distance, 0);
    assert.equal(nearest(tree(square(0, 0, 30)), tree(square(10, 10))).distance, 0);
    const ring = tree(square(0, 0, 30), square(8, 8, 14).reverse());
    assert.equal(nearest(ring, tree(square(12, 12, 6))).distance, 4);
  },

  "a bound hides what is farther off"() {
    assert.equal(nearest(tree(square(0, 0)), tree(square(13, 0)), 2), null);
    assert.equal(nearestOf(tree(square(0, 0)), [["far", tree(square(30, 0))], ["near", tree(square(0, 12))]]).id, "near");
  },

  "a turn about a point leaves it where it is"() {
    const pose = turnedAbout({ x: 40, y: 100, turn: 0 }, [15, 5], 90);
    // (15, 5) turned a quarter is (-5, 15); it stays at (55, 105).
    assert.ok(Math.abs(pose.x - 60) < 1e-9 && Math.abs(pose.y - 90) < 1e-9 && pose.turn === 90);
  },

  async "on the demo piece, every pair is within 0.02 mm of what the program measures"(app) {
    const { job } = await post(app, "/demo");
    await ended(app, job);
    const piece = await (await fetch(`${app.url}/piece/1/piece.json`)).text();
    const measured = JSON.parse(execFileSync(binary, ["measure", "--json"], { input: piece, maxBuffer: 64 << 20 }));
    const scene = await (await fetch(`${app.url}/piece/1/board.json`)).json();
    const trees = new Map(scene.parts.map((p) => [p.id, new Tree([p.outer, ...p.holes])]));
    for (const p of scene.placements) trees.get(p.part).place({ x: p.x, y: p.y, turn: p.turn_deg });
    let worst = 0, pairs = 0;
    for (const c of measured.pairs) {
      const found = nearest(trees.get(c.a), trees.get(c.b));
      worst = Math.max(worst, Math.abs(found.distance - c.clearance_mm));
      pairs += 1;
    }
    console.log(`      ${pairs} pairs, worst difference ${worst.toFixed(4)} mm`);
    assert.ok(pairs === 153 && worst <= 0.02, `${pairs} pairs, ${worst}`);
  },
};
