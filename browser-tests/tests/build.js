// Building: what is known of a part is said in the drawer, what is decided in Build; then the build is worked out.
import assert from "node:assert/strict";
import { close, demoAtTheBench, open, saved } from "../app.js";
import { shoot } from "../look.js";

export { demoAtTheBench as before, close as after };

export const tests = {
  async "Drawer: what mounting needs to know of a part is said, kept, and unsaid"(c) {
    const { page } = c;
    await open(c, "/piece/1/drawer?part=main-board");
    await page.getByText("For mounting").click();
    await page.getByLabel("Stands off the board").fill("2,5 mm");
    await page.getByLabel("Comes free by").selectOption("rework_station");
    await page.getByLabel("Graphite film").check();
    await page.getByLabel("Its data").selectOption("unknown");
    await page.getByText("Where it sat in the device").click();
    await page.getByLabel("Layer").fill("x");
    await page.getByLabel("Layer").press("Tab");
    assert.equal(await page.getByLabel("Layer").evaluate((f) => f.validationMessage), "Type a number.");
    await page.getByLabel("Layer").fill("5");
    await page.getByLabel("Layer").press("Tab");
    await saved(page);
    await shoot(page, "drawer-mounting");
    await open(c, "/piece/1/drawer?part=main-board");
    await page.getByText("For mounting").click();
    assert.equal(await page.getByLabel("Stands off the board").inputValue(), "2.50");
    assert.equal(await page.getByLabel("Comes free by").inputValue(), "rework_station");
    assert.ok(await page.getByLabel("Graphite film").isChecked());
    assert.equal(await page.getByLabel("Its data").inputValue(), "unknown");
    await page.getByLabel("Stands off the board").fill("");
    await page.getByLabel("Stands off the board").press("Tab");
    await saved(page);
  },

  async "Build: a changed piece asks for it again; choices are kept; the plan comes anew and tells what is wrong in the docket"(c) {
    const { page } = c;
    await open(c, "/piece/1/build");
    assert.ok(await page.locator("#stale").isVisible());
    await page.getByText("What is decided").click();
    await page.getByLabel("People").fill("two");
    await page.getByLabel("People").press("Tab");
    assert.match(await page.getByLabel("People").evaluate((f) => f.validationMessage), /Type a number/);
    await page.getByLabel("People").fill("2");
    await page.getByLabel("People").press("Tab");
    await page.getByLabel("a rework station").check();
    await page.getByLabel("Air to the glazing").fill("1/2 in");
    await page.getByLabel("Air to the glazing").press("Tab");
    await saved(page);
    await shoot(page, "build-choices");
    await page.getByRole("button", { name: "Work it out again" }).click();
    await page.waitForFunction(() => document.getElementById("stale")?.hidden === true, null, { timeout: 60000 });
    await page.waitForSelector("body[data-ready]");
    // The board cannot be freed here, and nobody knows what became of its data.
    const docket = await page.locator("aside.docket").innerText();
    assert.match(docket, /cannot be freed with the equipment that is there/);
    assert.match(docket, /stores data/);
    await page.getByText("What is decided").click();
    assert.equal(await page.getByLabel("Air to the glazing").inputValue(), "12.7");
    assert.ok(await page.getByLabel("a rework station").isChecked());
    await shoot(page, "build-anew");
    await page.getByRole("button", { name: /Undo: Work the build out/ }).click();
    await page.waitForFunction(() => document.getElementById("stale")?.hidden === false);
  },

  async "History: the piece goes back to a state and on again; the bin gives back what was put there"(c) {
    const { app, page } = c;
    await open(c, "/piece/1/history");
    await shoot(page, "history");
    const entries = await page.locator(".history li").count();
    assert.ok(entries > 3);
    await page.getByRole("button", { name: /^Go to this/ }).last().click();
    await page.waitForFunction(() => document.querySelector(".history li:last-child strong") !== null);
    await page.getByRole("button", { name: /^Go to this/ }).first().click();
    await page.waitForFunction(() => document.querySelector(".history li strong") !== null && document.querySelector(".history li:last-child strong") === null);
    assert.equal(await page.locator(".history li").count(), entries);
    await page.goto(app.url);
    await shoot(page, "shelf-ways");
    const coming = page.waitForEvent("download");
    await page.getByRole("link", { name: /^Bundle/ }).click();
    assert.match((await coming).suggestedFilename(), /^[a-z0-9-]+\.zip$/);
    await page.getByRole("button", { name: /^To the bin/ }).click();
    await page.getByText("In the bin: 1 piece").click();
    await page.getByRole("button", { name: /^Take it out/ }).click();
    await page.getByRole("link", { name: /^History/ }).waitFor();
  },

  async "nothing went wrong in these pages"({ faults }) {
    assert.deepEqual(faults, []);
  },
};
