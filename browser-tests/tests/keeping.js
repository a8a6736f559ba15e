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

  async "what was not saved is offered in every room until it is done or let go, and no other room forgets it"(c) {
    const { app, page } = c;
    const was = await at(c, "a");
    await lose(c, "a", "t");
    await page.goto(`${app.url}/piece/1/drawer`);
    await page.unroute("**/edits");
    const offered = page.getByText("One step was done here before and not saved");
    await offered.waitFor();
    await shoot(page, "unsent-in-drawer");
    // Nobody answers; rooms with nothing to save are entered and left.
    await open(c, "/piece/1/build");
    await offered.waitFor();
    await open(c, "/piece/1/board");
    await offered.waitFor();
    // A second step is lost: both are kept.
    await page.locator('[data-part="b"]').scrollIntoViewIfNeeded();
    await lose(c, "b", "t");
    await page.goto(`${app.url}/piece/1/drawer`);
    await page.unroute("**/edits");
    await page.getByText("2 steps were done here before and not saved").waitFor();
    // The drawer loads itself anew then: nothing is opened before that.
    const shownAnew = page.waitForEvent("load");
    await page.getByRole("button", { name: "Do it now" }).click();
    await shownAnew;
    assert.equal((await at(c, "b")).turn_deg, 90);
    assert.equal((await at(c, "a")).turn_deg, was.turn_deg + 90);
    await open(c, "/piece/1/board");
    assert.ok(await page.locator("#trouble").isHidden());
    assert.equal(await page.evaluate(() => localStorage.length), 0);
  },

  async "what was not saved is forgotten once it is let go"(c) {
    const { page } = c;
    const was = await scene(c);
    await lose(c, "c", "t");
    await page.reload();
    await page.unroute("**/edits");
    await page.getByRole("button", { name: "Let it go" }).click();
    await open(c, "/piece/1/board");
    assert.ok(await page.locator("#trouble").isHidden());
    assert.deepEqual((await scene(c)).placements, was.placements);
  },

  async "two windows do the same thing: whose counts is asked, and an undo that waits for the answer goes on"(c) {
    const { app, page } = c;
    await open(c, "/piece/1/board");
    const was = await scene(c);
    const move = (x) => [{ do: "place", part: "a", x, y: 150, turn_deg: 0 }];
    // The other window's step comes while this one's is on its way: it cannot be shown here before.
    let theirs = null;
    await page.route("**/edits", async (route) => {
      theirs ??= await post(app, "/piece/1/edits", { base: was.revision, edits: move(70) });
      await route.continue();
    });
    await page.locator('[data-part="a"]').focus();
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("Control+z");
    await page.getByRole("button", { name: "Keep mine" }).waitFor();
    await page.unroute("**/edits");
    await shoot(page, "conflict");
    await page.getByRole("button", { name: "Keep mine" }).click();
    // Mine was kept, then the undo that waited took it back to the other window's.
    await page.waitForFunction(async ([to]) => (await (await fetch("/piece/1/board.json")).json()).placements[0].x === to, [70]);
    await page.waitForFunction(() => document.getElementById("redo")?.disabled === false);
    // And so does the next one.
    await page.locator("#undo").click();
    await page.waitForFunction(async ([to]) => (await (await fetch("/piece/1/board.json")).json()).placements[0].x === to, [was.placements[0].x]);
  },

  async "the piece has its name, its device and its spread from the board, and undo takes each back"(c) {
    const { page } = c;
    await open(c, "/piece/1/board");
    const about = page.locator("#about");
    await about.locator("summary").click();
    const put = async (name, text) => {
      await about.getByLabel(name, { exact: true }).fill(text);
      await about.getByLabel(name, { exact: true }).press("Tab");
      await saved(page);
    };
    await put("Name", "Four trees");
    assert.equal(await page.locator(".piece-name").textContent(), "Four trees");
    // What made a device is no device yet.
    await about.getByLabel("Year").fill("2019");
    await about.getByLabel("Year").press("Tab");
    assert.match(await about.getByLabel("Device").evaluate((f) => f.validationMessage), /called/);
    await put("Device", "Wood kit");
    await page.getByLabel("Spread").selectOption("up");
    await saved(page);
    await page.getByRole("button", { name: "Keep a place free" }).click();
    await saved(page);
    await about.getByLabel("Wide").fill("80");
    await about.getByLabel("Wide").press("Tab");
    await saved(page);
    await about.getByLabel("Parts may lie in the holes and notches of others").uncheck();
    await saved(page);
    await shoot(page, "board-about");
    let now = await scene(c);
    assert.deepEqual([now.name, now.device, now.layout.spread, now.layout.nesting], ["Four trees", { name: "Wood kit", year: "2019" }, "up", false]);
    assert.deepEqual(now.layout.keep_outs.map((k) => [k.w, k.h]), [[80, 15]]);
    assert.equal(await page.locator(".keep-out").count(), 1);
    for (let k = 0; k < 6; k++) {
      const { revision } = now;
      await page.locator("#undo").click();
      await page.waitForFunction((r) => document.body.dataset.revision !== String(r), revision);
      now = await scene(c);
    }
    assert.deepEqual([now.name, now.device, now.layout.spread, now.layout.keep_outs], ["Squares", null, "right", []]);
    assert.equal(await about.getByLabel("Name", { exact: true }).inputValue(), "Squares");
    assert.equal(await page.getByLabel("Spread").inputValue(), "right");
    await page.waitForFunction(() => document.querySelector(".keep-out") === null);
  },

  async "a part's number on the sheets is changed in the drawer"(c) {
    const { page } = c;
    await open(c, "/piece/1/drawer?part=a");
    assert.ok(await page.getByRole("button", { name: "One number down" }).isDisabled());
    await Promise.all([page.waitForNavigation(), page.getByRole("button", { name: "One number up" }).click()]);
    await page.waitForSelector("body[data-ready]");
    assert.deepEqual((await scene(c)).parts.map((p) => p.id), ["b", "a", "c"]);
    assert.match(await page.locator('[data-part="a"] .item').innerText(), /^2$/);
    await page.locator("#undo").click();
    await page.waitForFunction(() => document.querySelector('[data-part="a"] .item')?.textContent === "1");
  },

  async "a part is turned by the arc at its corner"(c) {
    const { page } = c;
    await open(c, "/piece/1/board");
    const was = await at(c, "b");
    await page.locator('[data-part="b"] .edge').click();
    await page.locator(".turner").waitFor();
    await shoot(page, "board-arc");
    const [from, middle] = await page.evaluate(() => [".turner .brass", '[data-part="b"] .edge'].map((which) => {
      const b = document.querySelector(which).getBoundingClientRect();
      return [b.x + b.width / 2, b.y + b.height / 2];
    }));
    // Lower right of the part.
    assert.ok(from[0] > middle[0] && from[1] > middle[1]);
    const [dx, dy] = [from[0] - middle[0], from[1] - middle[1]];
    await page.mouse.move(...from);
    await page.mouse.down();
    // A quarter to the left, about the part's middle.
    for (let k = 1; k <= 9; k++) {
      const a = -k * Math.PI / 18;
      await page.mouse.move(middle[0] + dx * Math.cos(a) - dy * Math.sin(a), middle[1] + dx * Math.sin(a) + dy * Math.cos(a));
    }
    await page.mouse.up();
    await saved(page);
    assert.equal((await at(c, "b")).turn_deg, (was.turn_deg + 90) % 360);
  },

  async "two windows on the stock: neither reverts the other, and the same field is told, not overwritten"(c) {
    const { app, page, chromium } = c;
    await post(app, "/stock", { base: 0, fields: { "stock.0.name": "Strap", "stock.0.kind": "other", "stock.0.condition": "whole" } });
    await page.goto(`${app.url}/stock`);
    const other = await chromium.newPage();
    await other.goto(`${app.url}/stock`);
    const put = async (on, name, text) => {
      await on.getByLabel(name).first().fill(text);
      await on.getByLabel(name).first().press("Tab");
    };
    await put(other, "Model", "Dovrin 2");
    await saved(other);
    await put(page, "Note", "box 4");
    await saved(page);
    await put(page, "Model", "Eskat");
    await page.locator(".said").getByText("Another window changed this").waitFor();
    await page.reload();
    assert.deepEqual(await Promise.all(["Model", "Note"].map((name) => page.getByLabel(name).first().inputValue())), ["Dovrin 2", "box 4"]);
    await put(page, "Model", "Eskat");
    await saved(page);
    // What it changed itself it may change again.
    await put(page, "Model", "Eskat 3");
    await page.waitForFunction(async () => (await (await fetch("/stock")).text()).includes("Eskat 3"));
    await other.close();
  },

  async "heights that are typed while the parts are cut out stay, and the parts are not doubled"({ app }) {
    const { go } = await post(app, "/pieces", { name: "Boards" });
    const response = await fetch(`${app.url}${go.replace("capture", "photos")}?name=boards`, {
      method: "POST", headers: { "content-type": "application/octet-stream", origin: app.url }, body: readFileSync(PHOTO),
    });
    const { photo, job } = await response.json();
    const { revision } = await ended(app, job);
    const cutting = (await post(app, `/photo/${photo}/take`)).job;
    // The stream of reports tells when the work on the photo was read.
    const reports = (await fetch(`${app.url}/jobs/${cutting}`)).body.getReader();
    for (let heard = ""; !heard.includes("cutting out"); ) {
      const { value, done } = await reports.read();
      assert.ok(!done, "the cutting was over before it was heard of");
      heard += new TextDecoder().decode(value);
    }
    await post(app, `/photo/${photo}/work`, { base: revision, change: { do: "height_of_all", thickness_mm: 2 } });
    await reports.cancel();
    const first = await ended(app, cutting);
    assert.equal(first.new, 4);
    assert.equal(first.work.thickness_mm, 2);
    // The names were put to the newer work, not the height to the named one.
    assert.equal(first.undo, "Parts into the drawer");
    const again = await ended(app, (await post(app, `/photo/${photo}/take`)).job);
    assert.deepEqual([again.new, again.renewed], [0, 4]);
  },

  async "nothing went wrong in any page"({ faults }) {
    assert.deepEqual(faults, []);
  },
};
