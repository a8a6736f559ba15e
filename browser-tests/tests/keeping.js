// What is done is kept, also where the app does not answer, where two windows do the same, and where pictures stayed behind.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { atTheBench, close, ended, open, post, saved } from "../app.js";
import { shoot } from "../look.js";

export { close as after };

const PHOTO = new URL("../../tests/data/demo/2-boards.jpg", import.meta.url).pathname;
const IMAGE = `images/${"0".repeat(64)}.png`;
const square = { outer: [[0, 0], [30, 0], [30, 30], [0, 30]], holes: [] };
const part = (id, name) => ({ id, name, kind: "other", outline: square, thickness_mm: 2 });

/** Three squares on the board; the first has a picture that this workshop does not have. */
const SQUARES = {
  format: "setapart-piece", version: 1, name: "Squares",
  frame: { size_mm: [200, 300], lip_mm: 6, board_clearance_mm: 2, rebate_depth_mm: 35, margin_mm: { left: 12, right: 12, top: 12, bottom: 18 }, glazing: "float-2" },
  parts: [{ ...part("a", "Ash"), cutout: { image: IMAGE, px_per_mm: 12, origin_mm: [0, 0] } }, part("b", "Birch"), part("c", "Cedar")],
  placements: ["a", "b", "c"].map((id, k) => ({ part: id, x: 40 + 40 * k, y: 150, turn_deg: 0, pinned: false })),
};

export async function before() {
  const context = await atTheBench(/status of (4|5)\d\d|ERR_FAILED/);
  await context.page.goto(context.app.url);
  return context;
}

const scene = async ({ app }) => (await fetch(`${app.url}/piece/1/board.json`)).json();
const at = async (c, id) => (await scene(c)).placements.find((p) => p.part === id);

/** One step by its key, which is not answered, in a window that is then left. */
async function lose({ page }, id, key) {
  await page.route("**/edits", (route) => route.abort());
  await page.locator(`[data-part="${id}"]`).focus();
  await page.keyboard.press(key);
  await page.locator("#trouble").getByText("The app does not answer").waitFor();
  page.once("dialog", (dialog) => dialog.accept());
}

export const tests = {
  async "a document whose pictures stayed behind is told before it is opened, with what to do instead"({ page }) {
    await page.locator("#import").setInputFiles({ name: "piece.json", mimeType: "application/json", buffer: Buffer.from(JSON.stringify(SQUARES)) });
    const told = page.locator("#trouble");
    await told.getByText("1 picture was left out").waitFor();
    await told.getByText("setapart workshop import FILE").waitFor();
    await shoot(page, "import-without-pictures");
    assert.equal(new URL(page.url()).pathname, "/");
    await page.getByRole("link", { name: "Open it without them" }).click();
    await page.waitForURL(/\/piece\/1\/board/);
    await page.waitForSelector("body[data-ready]");
  },

  async "nothing went wrong in any page"({ faults }) {
    assert.deepEqual(faults, []);
  },
};
