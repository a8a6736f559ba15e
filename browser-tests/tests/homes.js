// Homes: parts put in by hand, found in photos of the opened device, taken over, moved, and their layers exchanged.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { atTheBench, close, ended, open, post, saved } from "../app.js";
import { shoot } from "../look.js";

const photo = (name) => readFileSync(new URL(`../../tests/data/homes/${name}.jpg`, import.meta.url));

/** Brings a photo in, and waits until it was looked at. */
async function bringIn(app, name) {
  const response = await fetch(`${app.url}/piece/1/photos?name=${name}`, {
    method: "POST", headers: { "content-type": "application/octet-stream", origin: app.url }, body: photo(name),
  });
  assert.equal(response.status, 200);
  return ended(app, (await response.json()).job);
}

const scene = async ({ app }) => (await fetch(`${app.url}/piece/1/homes.json`)).json();

export async function before() {
  const context = await atTheBench();
  const { app, page } = context;
  await page.goto(app.url);
  await page.getByLabel("What is it made of?").fill("Opened");
  await page.getByRole("button", { name: "Begin", exact: true }).click();
  await page.waitForURL(/\/piece\/1\/capture/);
  return context;
}

export { close as after };

export const tests = {
  async "without parts, the room says what comes first"({ app, page }) {
    await page.goto(`${app.url}/piece/1/homes`);
    await page.getByText("No parts yet").waitFor();
  },

  async "without parts, the board lets the piece be given another name, and undo takes it back"(c) {
    const { page } = c;
    await open(c, "/piece/1/board");
    await page.locator("#about summary").click();
    const name = page.locator("#about").getByLabel("Name", { exact: true });
    await name.fill("Laid open");
    await name.press("Tab");
    await saved(page);
    assert.equal(await page.locator(".piece-name").textContent(), "Laid open");
    await page.locator("#undo").click();
    await page.waitForFunction(() => document.querySelector(".piece-name")?.textContent === "Opened");
  },

  async "without photos, a part is put in by hand, moved and turned by keys, and undone"(c) {
    const { app, page } = c;
    const seen = await bringIn(app, "front-1");
    const { revision, id } = seen;
    await post(app, `/photo/${id}/work`, { base: revision, change: { do: "height_of_all", thickness_mm: 2 } });
    await ended(app, (await post(app, `/photo/${id}/take`)).job);
    await open(c, "/piece/1/homes");
    await page.getByText("Without photos, put each part in its place by hand").waitFor();
    assert.ok(await page.getByRole("button", { name: "Find the homes" }).isDisabled());
    assert.equal(await page.locator(".seat").count(), 0);
    await page.getByRole("button", { name: "Put Part 1 in by hand" }).click();
    await page.locator(".seat").waitFor();
    await saved(page);
    const [before] = (await scene(c)).parts;
    await page.locator(".seat").focus();
    await page.keyboard.press("ArrowUp");
    await page.keyboard.press("Shift+ArrowUp");
    await saved(page);
    await page.waitForFunction(async (y) => Math.abs((await (await fetch("homes.json")).json()).parts[0].home.y - y - 1.1) < 1e-6, before.home.y);
    await page.locator(".seat").focus();
    await page.keyboard.press(",");
    await page.waitForFunction(async () => (await (await fetch("homes.json")).json()).parts[0].home.turn_deg !== 0);
    await shoot(page, "homes-by-hand");
    for (let k = 0; k < 3; k++) await page.locator("#undo").click();
    await page.waitForFunction(async () => (await (await fetch("homes.json")).json()).parts[0].home === null);
    await page.locator(".seat").waitFor({ state: "detached" });
  },

  async "photos of the opened device offer homes; the sure ones are taken over with one click"(c) {
    const { app, page } = c;
    for (const [name, stage] of [["stage-0", 0], ["stage-1", 1], ["stage-3", 3]]) {
      const { id } = await bringIn(app, name);
      await post(app, `/photo/${id}/role`, { role: "inside", stage });
    }
    await open(c, "/piece/1/homes");
    await page.getByLabel("Opened from").selectOption("front");
    await Promise.all([page.waitForNavigation({ timeout: 240000 }), page.getByRole("button", { name: "Find the homes" }).click()]);
    await page.locator(".seat").first().waitFor();
    assert.equal(await page.locator("#underlays button").count(), 3);
    const found = await scene(c);
    assert.ok(found.parts.some((p) => p.offer), "nothing is offered");
    assert.equal(found.from_behind, false);
    await page.locator("#underlays button").nth(1).click();
    await page.waitForFunction(() => document.querySelector("#device image")?.getBoundingClientRect().width > 50);
    await shoot(page, "homes");
    const sure = found.parts.filter((p) => p.offer?.sure).length;
    if (sure > 0) {
      await page.getByRole("button", { name: /^Take over the/ }).first().click();
      await saved(page);
      await page.locator("#take-sure").waitFor({ state: "hidden" });
      assert.equal((await scene(c)).parts.filter((p) => p.home).length, sure);
    }
    // One that is offered is dragged to its place by hand.
    const part = (await scene(c)).parts.find((p) => p.offer);
    const at = part.home ?? part.offer.home;
    const box = await page.locator(`.seat[data-part="${part.id}"]`).boundingBox();
    const per = await page.evaluate(() => document.querySelector(".opened").getScreenCTM().a);
    await page.locator(`.seat[data-part="${part.id}"]`).focus();
    await page.locator(`[data-item="${part.id}"] .seat-name`).click();
    await page.evaluate(([id, dx]) => {
      const path = document.querySelector(`.seat[data-part="${id}"]`);
      const send = (type, x, on) => on.dispatchEvent(new PointerEvent(type, { bubbles: true, clientX: x, clientY: 300, pointerId: 1, button: 0 }));
      const svg = document.querySelector(".opened");
      svg.setPointerCapture = () => {};
      send("pointerdown", 300, path);
      send("pointermove", 300 + dx, svg);
      send("pointerup", 300 + dx, svg);
    }, [part.id, 5 * per]);
    await saved(page);
    const moved = (await scene(c)).parts.find((p) => p.id === part.id);
    assert.ok(box && Math.abs(moved.home.x - at.x - 5) < 0.01, `${moved.home.x} ${at.x}`);
  },

  async "layers change places"(c) {
    const { page } = c;
    // Two parts in two layers, whatever was found.
    const [a, b] = (await scene(c)).parts;
    const { revision } = await scene(c);
    const home = (part, layer) => ({ do: "know", part: part.id, what: { home: { x: 5, y: 5, turn_deg: 0, layer } } });
    await post(c.app, "/piece/1/edits", { base: revision, edits: [home(a, 40), home(b, 41)], gesture: null });
    await open(c, "/piece/1/homes");
    await page.getByRole("button", { name: "Layer 40: back" }).click();
    await page.waitForFunction(async ([p, q]) => {
      const all = (await (await fetch("homes.json")).json()).parts;
      return all.find((x) => x.id === p).home.layer === 41 && all.find((x) => x.id === q).home.layer === 40;
    }, [a.id, b.id]);
  },

  async "nothing went wrong in the pages"({ faults }) {
    assert.deepEqual(faults, []);
  },
};
