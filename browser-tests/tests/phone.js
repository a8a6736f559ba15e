// The phone: one code, one phone, one page; nothing else of the app is to be had from the network.
import assert from "node:assert/strict";
import { browser, close, post, start } from "../app.js";
import { shoot } from "../look.js";

const PHOTO = new URL("../../tests/data/demo/4-small.jpg", import.meta.url).pathname;

export async function before() {
  const app = await start(undefined, ["--lan"]);
  // The second line comes just after the first.
  for (let k = 0; k < 50 && !app.said().includes("Phones"); k++) await new Promise((done) => setTimeout(done, 50));
  const { go } = await post(app, "/pieces", { name: "From a phone" });
  return { app, id: go.split("/")[2], chromium: await browser() };
}

export { close as after };

export const tests = {
  async "a code opens once; the phone that opened it sends photos to the piece"({ app, id, chromium }) {
    const { url, modules } = await post(app, `/piece/${id}/phone`);
    assert.equal(modules.length, modules[0].length);
    const phone = await (await chromium.newContext({ viewport: { width: 390, height: 844 }, isMobile: true, hasTouch: true })).newPage();
    await phone.goto(url);
    await shoot(phone, "phone-door");
    await phone.getByRole("link", { name: "Take photos" }).click();
    await phone.getByText("Photos for From a phone").waitFor();
    await shoot(phone, "phone");
    await phone.locator("#chosen").setInputFiles(PHOTO);
    await phone.locator("#sent li.taken").waitFor({ timeout: 60000 });
    await shoot(phone, "phone-sent");
    const bench = await (await fetch(`${app.url}/piece/${id}/capture`, { headers: { accept: "text/html" } })).text();
    assert.ok(bench.includes("4-small.jpg"));
    // A second phone with the same code.
    const again = await fetch(url, { redirect: "manual" });
    assert.equal(again.status, 403);
  },

  async "without the code, and for everything else, the door is shut"({ app, id }) {
    const { url } = await post(app, `/piece/${id}/phone`);
    const lan = new URL(url).origin;
    for (const path of ["/", "/phone", `/piece/${id}/board`, `/piece/${id}/board.json`, "/pieces", "/p/0123456789abcdef0123456789abcdef", "/picture/photo/x.jpg", "/jobs/1"]) {
      const response = await fetch(lan + path);
      assert.ok([403, 404].includes(response.status), `${path}: ${response.status}`);
    }
    const photo = await fetch(`${lan}/phone/photos`, { method: "POST", body: "x", headers: { origin: lan } });
    assert.equal(photo.status, 403);
    // The bench's own address hears nobody else's name, the network's none but its own.
    const port = new URL(app.url).port;
    const foreign = await fetch(`http://${new URL(url).hostname}:${port}/`).then((r) => r.status, () => "no answer");
    assert.equal(foreign, "no answer");
  },
};
