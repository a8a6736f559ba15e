// The whole job, as someone at the bench does it.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { atTheBench, close, saved, start } from "../app.js";
import { shoot } from "../look.js";

const INSIDE = new URL("../../tests/data/demo/3-inside.jpg", import.meta.url).pathname;
const PHOTO = new URL("../../tests/data/demo/2-boards.jpg", import.meta.url).pathname;

export async function before() {
  const context = await atTheBench(/status of (4|5)\d\d/);
  const { app, page, faults } = context;
  // Nothing is ever asked of another machine.
  page.on("request", (r) => !r.url().startsWith(app.url) && !r.url().startsWith("blob:") && faults.push(`asked ${r.url()}`));
  return context;
}

export { close as after };

const ready = (page) => page.waitForSelector("body[data-ready]");
const scene = async ({ app, page }) => (await fetch(`${app.url}/piece/${await page.getAttribute("body", "data-piece")}/board.json`)).json();
/** The page shows what the store holds: nothing is drawn anew between looking where a part is and taking hold of it. */
const caughtUp = async (context) => {
  const { revision } = await scene(context);
  await context.page.waitForFunction((r) => document.body.dataset.revision === String(r), revision);
};
// Found and measured in one go: a board drawn anew between the two would leave a node that is nowhere.
const middle = async (page, selector) => {
  await page.locator(selector).waitFor();
  return page.evaluate((which) => {
    const b = document.querySelector(which).getBoundingClientRect();
    return [b.x + b.width / 2, b.y + b.height / 2];
  }, selector);
};

export const tests = {
  async "an empty shelf says what to do, and a piece is begun by its name"({ app, page }) {
    await page.goto(app.url);
    await page.getByText("Nothing on the shelf yet").waitFor();
    await shoot(page, "shelf-empty");
    await page.getByLabel("What is it made of?").fill("Boards");
    await page.getByRole("button", { name: "Begin", exact: true }).click();
    await page.waitForURL(/\/piece\/1\/capture/);
    await page.getByText("No photos yet").waitFor();
    await shoot(page, "capture-empty");
  },

  async "a photo comes in, outlines appear, heights and strokes are heard"({ page }) {
    await page.locator("#pick").setInputFiles(PHOTO);
    await page.waitForURL(/photo=1/, { timeout: 120000 });
    await page.locator(".outline").nth(3).waitFor({ timeout: 120000 });
    assert.equal(await page.locator(".outline").count(), 4);
    assert.equal(await page.locator(".warning").filter({ hasText: "thickness is not known" }).count(), 4);
    const height = page.getByLabel("Height of outline 1");
    await height.fill("1.6");
    await height.press("Enter");
    await page.waitForFunction(() => [...document.querySelectorAll(".warning")].filter((w) => w.textContent.includes("thickness is not known")).length === 3);
    await page.getByLabel("Height of all others").fill("2,0 mm");
    await page.getByLabel("Height of all others").press("Enter");
    await page.waitForFunction(() => ![...document.querySelectorAll(".warning")].some((w) => w.textContent.includes("thickness is not known")));
    await shoot(page, "capture");
    // A stroke over the middle of a part takes a bite out of it; undo gives it back.
    const before = await page.locator(".outline").nth(0).getAttribute("d");
    await page.getByRole("button", { name: "No part" }).click();
    const box = await page.locator(".outline").nth(0).boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width + 8, box.y + box.height / 2, { steps: 12 });
    await page.mouse.up();
    await page.waitForFunction((d) => document.querySelector(".outline")?.getAttribute("d") !== d, before);
    assert.equal(await page.locator(".stroke").count(), 1);
    await page.getByRole("button", { name: "Undo stroke" }).click();
    await page.waitForFunction((d) => document.querySelector(".outline")?.getAttribute("d") === d, before);
  },

  async "a height that cannot be is told in place, and stays to be corrected"({ page }) {
    const height = page.getByLabel("Height of outline 2");
    await height.fill("tall");
    await height.press("Enter");
    assert.equal(await height.inputValue(), "tall");
    assert.match(await height.evaluate((f) => f.validationMessage), /length/);
    await height.fill("1.8");
    await height.press("Enter");
    await page.waitForFunction(() => document.querySelector("[aria-label='Height of outline 2']")?.value === "1.80");
  },

  async "the parts go into the drawer with their own pictures, and are named there"({ page }) {
    await page.getByRole("button", { name: "Into the drawer" }).click();
    await page.getByText("4 new in the drawer").waitFor({ timeout: 60000 });
    await page.getByRole("link", { name: "To the drawer" }).click();
    await ready(page);
    assert.equal(await page.locator(".cell").count(), 4);
    await page.waitForFunction(() => document.querySelectorAll(".cut-out.pictured").length === 4);
    await page.locator(".cell").first().click();
    await page.getByLabel("Name").fill("Main board");
    await page.getByLabel("Name").press("Tab");
    await saved(page);
    await page.locator(".cell strong", { hasText: "Main board" }).waitFor();
    await shoot(page, "drawer");
  },

  async "parts are arranged on the board"({ page }) {
    await page.getByRole("link", { name: "Board", exact: true }).click();
    await ready(page);
    await page.getByRole("heading", { name: "Not on the board" }).waitFor();
    await page.getByRole("button", { name: "Arrange" }).click();
    await page.waitForFunction(() => document.querySelectorAll(".part:not([hidden])").length === 4, null, { timeout: 60000 });
    await page.getByText("Nothing is wrong with it").waitFor();
  },

  async "the demo piece is one click away"(context) {
    const { app, page } = context;
    await page.goto(app.url);
    await page.getByRole("button", { name: "Set up the demo piece" }).click();
    await page.locator("#demo-job progress").waitFor();
    await shoot(page, "demo-job");
    await page.waitForURL(/\/piece\/2\/board/, { timeout: 300000 });
    await ready(page);
    await page.waitForFunction(() => document.querySelectorAll(".part.pictured").length === 18);
    assert.equal(await page.locator(".caption").count(), (await scene(context)).captions.length);
    await shoot(page, "board");
  },

  async "a part is dragged where the pointer goes, its caption with it, and undo brings both back"(context) {
    const { page } = context;
    const was = await scene(context);
    const id = was.parts.find((p) => p.name === "Shield plate")?.id ?? was.placements[5].part;
    const [x, y] = await middle(page, `[data-part="${id}"] .edge`);
    const scale = await page.evaluate(() => document.querySelector("svg.board").getScreenCTM().a);
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 10 * scale, y + 5 * scale, { steps: 8 });
    await page.locator(".gauge text").waitFor();
    await shoot(page, "board-drag");
    await page.mouse.up();
    await saved(page);
    const now = await scene(context);
    const at = (s) => s.placements.find((p) => p.part === id), caption = (s) => s.captions.find((c) => c.part === id);
    assert.ok(Math.abs(at(now).x - at(was).x - 10) < 0.1, `${at(now).x} after ${at(was).x}`);
    assert.ok(Math.abs(at(now).y - at(was).y + 5) < 0.1);
    if (caption(was)?.leader.length === 0) assert.ok(Math.abs(caption(now).x - caption(was).x - 10) < 0.1);
    await page.locator("#undo").click();
    await page.waitForFunction((u) => document.getElementById("redo")?.title === u, "Redo: Move Shield plate").catch(() => {});
    const back = await scene(context);
    assert.deepEqual(at(back), at(was));
    assert.deepEqual(caption(back), caption(was));
    await caughtUp(context);
  },

  async "Escape leaves a drag, and nothing was moved"(context) {
    const { page } = context;
    const was = await scene(context);
    const [x, y] = await middle(page, `[data-part="${was.placements[3].part}"] .edge`);
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 60, y + 40, { steps: 5 });
    await page.keyboard.press("Escape");
    await page.mouse.up();
    assert.deepEqual((await scene(context)).placements, was.placements);
    await caughtUp(context);
  },

  async "keys nudge by 1 and 0.1 mm, turn, pin, and one undo takes a gesture back"(context) {
    const { page } = context;
    const was = await scene(context);
    const id = was.placements[2].part;
    await page.locator(`[data-part="${id}"]`).focus();
    for (const key of ["ArrowRight", "ArrowRight", "Shift+ArrowUp"]) await page.keyboard.press(key);
    await saved(page);
    let now = (await scene(context)).placements[2];
    assert.ok(Math.abs(now.x - was.placements[2].x - 2) < 1e-6, `${now.x}`);
    assert.ok(Math.abs(now.y - was.placements[2].y - 0.1) < 1e-6, `${now.y}`);
    await page.keyboard.press("p");
    await page.waitForFunction((i) => document.querySelector(`[data-part="${i}"]`)?.classList.contains("pinned"), id);
    await page.keyboard.press("t");
    await saved(page);
    now = (await scene(context)).placements[2];
    assert.equal(now.pinned, true);
    assert.equal(now.turn_deg, (was.placements[2].turn_deg + 90) % 360);
    for (let k = 0; k < 3; k++) {
      const revision = (await scene(context)).revision;
      await page.keyboard.press("Control+z");
      await page.waitForFunction(async ([url, r]) => (await (await fetch(url)).json()).revision !== r, [`/piece/2/board.json`, revision]);
    }
    assert.deepEqual((await scene(context)).placements, was.placements);
    await caughtUp(context);
  },

  async "a part laid on another is a stop in the docket; choosing it goes there, settling puts it right"(context) {
    const { page } = context;
    const was = await scene(context);
    const [a, b] = [was.placements[0].part, was.placements[1].part];
    const from = await middle(page, `[data-part="${b}"] .edge`), to = await middle(page, `[data-part="${a}"] .edge`);
    await page.mouse.move(...from);
    await page.mouse.down();
    await page.mouse.move(...to, { steps: 10 });
    await page.mouse.up();
    await page.locator(".docket li.stop a").first().waitFor();
    await shoot(page, "board-stop");
    await page.locator(".docket li.stop a").first().click();
    assert.ok((await page.locator(".part.chosen").count()) >= 1);
    await page.getByRole("button", { name: "Settle" }).click();
    await page.getByText("Nothing is wrong with it").waitFor({ timeout: 60000 });
    await page.waitForFunction(() => !document.querySelector(".docket li.stop"));
  },

  async "two windows: what one does the other shows, the same part is asked about, and undo goes on after the answer"(context) {
    const { app, page, chromium } = context;
    const other = await chromium.newPage({ viewport: { width: 1280, height: 800 } });
    await other.goto(`${app.url}/piece/2/board`);
    await ready(other);
    const was = await scene(context);
    const id = was.placements[4].part;
    await page.locator(`[data-part="${id}"]`).focus();
    await page.keyboard.press("ArrowLeft");
    await saved(page);
    const now = (await scene(context)).placements[4];
    await other.waitForFunction(([i, x]) => Math.abs(parseFloat(document.querySelector(`[data-part="${i}"]`)?.style.transform.slice("translate(".length) ?? "") - x) < 0.002, [id, now.x], { timeout: 5000 });
    // Both move it: the one whose step is stored later is asked, and an undo waits for the answer.
    const moved = async (x) => fetch(`${app.url}/piece/2/edits`, {
      method: "POST", headers: { "content-type": "application/json", origin: app.url },
      body: JSON.stringify({ base: (await scene(context)).revision, edits: [{ do: "place", part: id, x, y: now.y, turn_deg: now.turn_deg }] }),
    });
    await page.route("**/edits", async (route) => {
      assert.equal((await moved(now.x + 3)).status, 200);
      await route.continue();
    }, { times: 1 });
    await page.locator(`[data-part="${id}"]`).focus();
    await page.keyboard.press("ArrowLeft");
    await page.keyboard.press("Control+z");
    await page.getByRole("button", { name: "Keep mine" }).click();
    await page.waitForFunction(async ([i, x]) => Math.abs((await (await fetch("/piece/2/board.json")).json()).placements.find((p) => p.part === i).x - x) < 1e-6, [id, now.x + 3]);
    await page.waitForFunction(() => document.getElementById("redo")?.disabled === false);
    // Mine was stored, and can be done again.
    await page.locator("#redo").click();
    await page.waitForFunction(async ([i, x]) => Math.abs((await (await fetch("/piece/2/board.json")).json()).placements.find((p) => p.part === i).x - x) < 1e-6, [id, now.x - 1]);
    await other.close();
    await caughtUp(context);
  },

  async "what is refused is shown as it was typed, and what was done after it is saved"(context) {
    const { page } = context;
    const was = await scene(context);
    const id = was.placements[4].part;
    await page.locator(`[data-part="${id}"] .edge`).click();
    await page.route("**/edits", (route) => route.fulfill({ status: 422, contentType: "application/json", body: JSON.stringify({ problem: "Refused for this test.", remedy: "Try other words." }) }), { times: 1 });
    await page.getByLabel("Caption", { exact: true }).fill("Words that took long");
    await page.getByRole("button", { name: "Turn left by a quarter" }).click();
    await page.locator("#trouble").getByText("You had typed: Words that took long").waitFor();
    await saved(page);
    const now = (await scene(context)).placements[4];
    assert.equal(now.turn_deg, (was.placements[4].turn_deg + 90) % 360);
    await page.waitForFunction((text) => !/** @type {HTMLTextAreaElement} */ (document.querySelector("#label textarea")).value.includes(text), "Words");
    await page.getByRole("button", { name: "Put away" }).click();
    await page.getByRole("button", { name: "Turn right by a quarter" }).click();
    await saved(page);
    await caughtUp(context);
  },

  async "words that were typed and not entered, and steps that could not be sent, come back with the page"(context) {
    const { page } = context;
    const was = await scene(context);
    const id = was.placements[5].part;
    await page.locator(`[data-part="${id}"] .edge`).click();
    const kept = page.waitForResponse((r) => r.url().endsWith("/draft"));
    await page.getByLabel("Caption", { exact: true }).pressSequentially(" half");
    await kept;
    // The window goes without the field being left.
    await page.reload();
    await ready(page);
    await page.locator(`[data-part="${id}"] .edge`).click();
    assert.match(await page.getByLabel("Caption", { exact: true }).inputValue(), /half/);
    await page.getByRole("button", { name: "Let it go" }).click();
    assert.doesNotMatch(await page.getByLabel("Caption", { exact: true }).inputValue(), /half/);
    // The app does not answer, and the window is closed all the same.
    await page.route("**/edits", (route) => route.abort());
    await page.locator(`[data-part="${id}"]`).focus();
    await page.keyboard.press("t");
    await page.locator("#trouble").getByText("The app does not answer").waitFor();
    page.once("dialog", (dialog) => dialog.accept());
    await page.reload();
    await page.unroute("**/edits");
    await ready(page);
    await page.getByText("One step was done here before and not saved").waitFor();
    await page.getByRole("button", { name: "Do it now" }).click();
    await saved(page);
    assert.equal((await scene(context)).placements[5].turn_deg, (was.placements[5].turn_deg + 90) % 360);
    await page.locator(`[data-part="${id}"]`).focus();
    await page.keyboard.press("Shift+t");
    await saved(page);
    await caughtUp(context);
    // Not answered on purpose.
    context.faults.splice(0, Infinity, ...context.faults.filter((fault) => !fault.includes("ERR_FAILED")));
  },

  async "frames that fit are offered, smallest first"({ page }) {
    await page.getByRole("button", { name: "Frames that fit" }).click();
    await page.locator(".frame-choice").first().waitFor({ timeout: 300000 });
    await shoot(page, "board-frames");
    assert.ok((await page.locator(".frame-choice").count()) > 3);
    await page.getByRole("button", { name: "Leave it as it is" }).click();
  },

  async "sheets are drawn, shown and come down whole"({ page }) {
    await page.getByRole("link", { name: "Sheets", exact: true }).click();
    await page.getByLabel("Bar along x").fill("97");
    await page.getByLabel("Bar along x").press("Tab");
    await page.getByRole("button", { name: "Draw the sheets" }).click();
    await page.locator("#print .error").waitFor();
    assert.equal(await page.getByLabel("Bar along x").inputValue(), "97.00");
    await page.getByLabel("Bar along x").fill("100");
    await page.getByRole("button", { name: "Draw the sheets" }).click();
    await page.locator(".files a").first().waitFor({ timeout: 120000 });
    await page.waitForFunction(() => [...document.images].every((i) => i.complete));
    await page.getByRole("list", { name: "Worth knowing" }).getByText("work it out in the room Build").waitFor();
    await shoot(page, "sheets");
    const [download] = await Promise.all([page.waitForEvent("download"), page.locator(".files a", { hasText: "template-a4.pdf" }).click()]);
    const bytes = readFileSync(await download.path());
    assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
    // In another language, with a number in an edition: both are on the plaque, and are still chosen.
    await page.getByText("Language, guide, edition, cutting").click();
    await page.getByLabel("Language").selectOption("de");
    await page.getByLabel("Number in an edition").fill("3/25");
    await page.getByRole("button", { name: "Draw them again" }).click();
    await page.waitForFunction(() => /** @type {HTMLInputElement | null} */ (document.querySelector("[name=edition]"))?.defaultValue === "3/25", null, { timeout: 120000 });
    assert.equal(await page.getByLabel("Language").inputValue(), "de");
    const href = await page.locator(".files a", { hasText: "plaque.svg" }).getAttribute("href");
    const sign = await page.evaluate(async (at) => (await fetch(at)).text(), /** @type {string} */ (href));
    assert.match(sign, /3\/25/);
  },

  async "after a restart, undo still goes back"(context) {
    const { page } = context;
    const was = await scene(context);
    assert.ok(was.undo);
    await context.app.stop("SIGKILL");
    const again = await start(context.app.folder);
    context.app.url = again.url;
    context.app.stop = again.stop;
    await page.goto(`${again.url}/piece/2/board`);
    await ready(page);
    assert.deepEqual((await scene(context)).placements, was.placements);
    await page.locator("#undo").click();
    await page.waitForFunction(() => document.getElementById("redo")?.disabled === false);
    assert.notEqual((await scene(context)).revision, was.revision);
  },

  async "a photo of the parts turned over gives them their backs, and the frame may show those"({ page }) {
    // A part that looks the same turned over joins itself: the photo serves twice.
    await page.goto(new URL("/piece/1/capture", page.url()).href);
    await page.locator("#pick").setInputFiles(INSIDE);
    await page.locator(".outline").nth(4).waitFor({ timeout: 120000 });
    await page.getByRole("button", { name: "Into the drawer" }).click();
    await page.getByText("5 new in the drawer").waitFor({ timeout: 60000 });
    await page.getByText("How it was taken").click();
    await page.getByLabel("It shows").selectOption("inside");
    await page.getByRole("link", { name: "To Homes" }).waitFor();
    await page.getByLabel("It shows").selectOption("backs");
    await page.getByRole("button", { name: "Join to the parts in the drawer" }).click();
    await page.locator("#found p").getByText(/^Backs of Part/).waitFor({ timeout: 60000 });
    await shoot(page, "capture-backs");
    const cutouts = async () => (await (await fetch(new URL("/piece/1/board.json", page.url()))).json()).parts.map((p) => [p.name, p.cutout?.image]);
    const fronts = await cutouts();
    assert.ok(fronts.length >= 9);
    const joined = /^Backs of (Part \d+)/.exec(await page.locator("#found p").getByText(/^Backs of Part/).innerText())?.[1] ?? "";
    await page.locator("#found").getByRole("link", { name: "the Drawer" }).click();
    await ready(page);
    // Only where a part has a back is there a choice.
    await page.locator(".cell").first().click();
    assert.equal(await page.getByLabel("Face shown").count(), 0);
    await page.locator(".cell", { has: page.getByText(joined, { exact: true }) }).click();
    await Promise.all([page.waitForNavigation(), page.getByLabel("Face shown").selectOption("back")]);
    await ready(page);
    assert.equal(await page.getByLabel("Face shown").inputValue(), "back");
    await page.waitForFunction(() => document.querySelector('.cell[aria-pressed="true"] .pictured'));
    await shoot(page, "drawer-back");
    const now = await cutouts();
    assert.deepEqual(now.filter(([, image], k) => image !== fronts[k][1]).map(([name]) => name), [joined]);
  },

  async "a scan's resolution can be said, and one that no scanner has is told in place"({ page }) {
    await page.goto(new URL("/piece/1/capture?photo=1", page.url()).href);
    await page.locator(".outline").first().waitFor({ timeout: 120000 });
    await page.getByText("How it was taken").click();
    assert.equal(await page.getByLabel("Pixels an inch").count(), 0);
    await page.getByLabel("The picture was taken").selectOption("scan");
    const field = page.getByLabel("Pixels an inch");
    await field.waitFor({ timeout: 120000 });
    await field.fill("20");
    await field.press("Tab");
    assert.match(await field.evaluate((f) => f.validationMessage), /100 to 19200/);
    await field.fill("300");
    const sent = page.waitForRequest((r) => r.url().endsWith("/work"));
    await field.press("Tab");
    assert.deepEqual((await sent).postDataJSON().change, { do: "way", taken: { way: "scan", dpi: [300, 300] } });
    await page.waitForFunction(async () => (await (await fetch("/photo/1.json")).json()).work.taken.dpi?.[0] === 300);
    await page.goto(new URL("/piece/1/drawer", page.url()).href);
    await ready(page);
  },

  async "light and units are kept"({ page }) {
    await page.locator("details.settings summary").click();
    await page.getByLabel("Inches").check();
    await page.waitForFunction(() => document.documentElement.dataset.units === "inches");
    await ready(page);
    await page.locator("details.settings summary").click();
    await page.getByLabel("Lamp").check();
    await page.waitForFunction(() => document.documentElement.dataset.theme === "dark");
    await page.reload();
    assert.equal(await page.getAttribute("html", "data-theme"), "dark");
    await page.locator("details.settings summary").click();
    await page.getByLabel("Millimetres").check();
    await page.waitForFunction(() => document.documentElement.dataset.units === "millimetres");
  },

  async "nothing went wrong in the pages, and nothing was asked of anyone else"({ faults }) {
    assert.deepEqual(faults, []);
  },
};

