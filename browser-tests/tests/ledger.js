// The ledger's rooms on the demo piece: forms answer as they change, bad input stays where it was typed, stock counts.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { close, demoAtTheBench, open, post, saved } from "../app.js";
import { shoot } from "../look.js";

export { demoAtTheBench as before, close as after };

const answer = (page) => page.locator("#answer").innerText();

export const tests = {
  async "Intake: the demo's device is judged, and the verdict follows what is seen"(c) {
    const { page } = c;
    await open(c, "/piece/1/intake");
    const before = await answer(page);
    assert.match(before, /Chance of repair/);
    assert.match(before, /The next check/);
    await shoot(page, "intake");
    await page.locator('select[name="sign.liquid"]').selectOption({ index: 1 });
    await saved(page);
    assert.notEqual(await answer(page), before);
    await page.reload();
    assert.equal(await page.locator('select[name="sign.liquid"]').evaluate((s) => s.selectedIndex), 1);
  },

  async "Intake: a device that can likely be mended is not to be taken apart without a warning"(c) {
    const { page } = c;
    for (const [name, value] of [["repaired", "1.00"], ["piece_price", "900"]]) {
      await page.locator(`[name="${name}"]`).fill(value);
    }
    await page.locator('select[name="sign.supply"]').selectOption("surges");
    await page.locator('select[name="sign.rust"]').selectOption("none");
    await page.locator('select[name="sign.known_good"]').selectOption({ index: 1 });
    await page.locator('[data-code="verdict.likely-repairable"]').waitFor();
    await shoot(page, "intake-warned");
  },

  async "Intake: a wrong amount is told at its field, stays typed, and goes once it is right; keys do all of it"(c) {
    const { page } = c;
    const worth = page.getByLabel("Worth repaired");
    await worth.fill("ninety");
    await page.locator(".said").waitFor();
    assert.equal(await worth.inputValue(), "ninety");
    assert.equal(await worth.getAttribute("aria-invalid"), "true");
    assert.match(await page.locator(".said").innerText(), /Type an amount/);
    await shoot(page, "intake-wrong");
    await worth.fill("95,50");
    await page.locator(".said").waitFor({ state: "detached" });
    await saved(page);
    const lines = await page.locator(".part-line").count();
    await page.getByRole("button", { name: "Add a part" }).focus();
    await page.keyboard.press("Enter");
    assert.equal(await page.locator(".part-line").count(), lines + 1);
    await page.keyboard.type("Strap");
    await saved(page);
    await page.waitForFunction(() => document.getElementById("answer")?.innerText.includes("Strap"));
    await page.getByRole("button", { name: /Undo: Intake/ }).click();
    await page.waitForFunction(() => !document.getElementById("answer")?.innerText.includes("Strap"));
  },

  async "Intake: what came of a device makes the chances surer, and chances are the shop's own where it types them"(c) {
    const { page } = c;
    await page.locator('select[name="came.condition"]').selectOption("power");
    await page.locator('select[name="came.repaired"]').selectOption("yes");
    await saved(page);
    await page.getByText("What may be wrong, and where the chances are from").click();
    await page.getByRole("link", { name: "See and change the chances" }).click();
    await page.waitForSelector("body[data-ready]");
    assert.match(await answer(page), /1 device of your own is counted/);
    await page.locator('[name="c.1.repair"]').fill("140");
    await page.locator(".said").waitFor();
    await page.locator('[name="c.1.repair"]').fill("62,5");
    await page.locator(".said").waitFor({ state: "detached" });
    await saved(page);
    assert.match(await answer(page), /your own/);
    await shoot(page, "chances");
    await page.getByLabel("Use them again in place of what was typed here").check();
    await page.waitForFunction(() => !document.getElementById("answer")?.innerText.match(/\byour own$/m));
    assert.equal(await page.locator('[name="c.1.repair"]').inputValue(), "50");
  },

  async "Donors: the choice, each part's confidence, the runner-up; asking for more costs more"(c) {
    const { page } = c;
    await open(c, "/piece/1/donors");
    const before = await answer(page);
    assert.match(before, /Buy for/);
    assert.match(before, /Runner-up/);
    assert.match(before, /proved/);
    await shoot(page, "donors");
    const cost = (text) => Number(/Buy for ([\d.]+)/.exec(text)[1]);
    await page.getByLabel("Sure of each part").fill("95");
    await saved(page);
    assert.ok(cost(await answer(page)) >= cost(before));
    await page.getByLabel("Sure of each part").fill("99.9999");
    await page.locator("#answer .caution").waitFor();
    assert.match(await answer(page), /all lots together give/);
    await page.getByLabel("Sure of each part").fill("90");
    await saved(page);
  },

  async "Donors: a table takes the place of the lots; one with a wrong column does not, and says which"(c) {
    const { page } = c;
    const lots = page.locator('.lot-line');
    const before = await lots.count();
    const table = (text) => page.locator("#lots-file").setInputFiles({ name: "lots.csv", mimeType: "text/csv", buffer: Buffer.from(text) });
    await table("id,prize\na,3\n");
    await page.locator(".said, #form-error:not([hidden])").first().waitFor();
    assert.equal(await lots.count(), before);
    await table("id,price,part:display,part:key-mat,part:mic-bar,part:link-ribbon,part:screw-1\nall,12.50,0.95,0.95,0.95,0.95,1\n");
    await page.waitForFunction(() => document.querySelectorAll(".lot-line").length === 1);
    await page.getByRole("button", { name: /Undo: Lots/ }).click();
    await page.waitForFunction((n) => document.querySelectorAll(".lot-line").length === n, before);
  },

  async "Stock: a part is put in for a piece, and is gone after it was taken out"(c) {
    const { page } = c;
    await open(c, "/stock");
    const lines = await page.locator(".stock-line").count();
    assert.ok(lines >= 3);
    await shoot(page, "stock");
    await page.getByRole("button", { name: "Put a part in" }).click();
    await page.keyboard.type("Key mat");
    const line = page.locator(".stock-line").last();
    await line.getByLabel("Kept for").selectOption({ index: 1 });
    await saved(page);
    await page.waitForFunction((n) => document.getElementById("answer")?.innerText.includes(`${n} parts`), lines + 1);
    await page.reload();
    assert.equal(await page.locator(".stock-line").count(), lines + 1);
    await page.getByRole("button", { name: "Take out Key mat" }).first().click();
    await saved(page);
    await page.reload();
    assert.equal(await page.locator(".stock-line").count(), lines);
  },

  async "Costing: price from margin, margin from a price, a batch, the parcel in both units, tables"(c) {
    const { app, page } = c;
    await open(c, "/piece/1/costing");
    assert.match(await answer(page), /Where the money goes/);
    assert.match(await answer(page), /Lithium/);
    // A price of a hook is none of a millimetre of wire: the demo's materials are some tens of euros.
    const material = Number(/Material\s+([\d.,]+) EUR/.exec(await answer(page))[1].replace(",", ""));
    assert.ok(material > 20 && material < 150, `${material}`);
    await shoot(page, "costing");
    await page.getByLabel("Made from").selectOption("price");
    await page.getByLabel("Set to").fill("300");
    await saved(page);
    assert.match(await answer(page), /300\.00 EUR for the finished piece/);
    await page.getByLabel("Pieces", { exact: true }).fill("20");
    await page.waitForFunction(() => document.getElementById("answer")?.innerText.includes("Each of 20"));
    const text = readFileSync(await (await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "The bill as CSV" }).click()]))[0].path(), "utf8");
    assert.match(text, /^group,what/);
    assert.match(await answer(page), /x \d+ mm/);
    await post(app, "/settings", { units: "inches" });
    await page.reload();
    assert.match(await answer(page), /x [\d.]+ in/);
    await post(app, "/settings", { units: "millimetres" });
  },

  async "nothing went wrong in any page"({ faults }) {
    assert.deepEqual(faults, []);
  },
};
