// Two hundred clients at once, some of them ill: memory stays bounded, refusals are clear, the page stays usable.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { connect } from "node:net";
import { close, post, start } from "../app.js";

/** Resident memory, MB, where the system tells. */
function memory(pid) {
  const found = /VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, "utf8"));
  return Number(found?.[1] ?? 0) / 1024;
}

export async function before() {
  const app = await start();
  const { go } = await post(app, "/pieces", { name: "Crowded" });
  return { app, id: go.split("/")[2] };
}

export { close as after };

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** A client that speaks HTTP by hand, and what it heard. */
function client(app, head, feed) {
  const { hostname, port, host } = new URL(app.url);
  const socket = connect(Number(port), hostname);
  const heard = { text: "", open: true };
  socket.on("data", (b) => (heard.text += b));
  socket.on("error", () => {});
  socket.on("close", () => (heard.open = false));
  socket.write(`${head}\r\nHost: ${host}\r\nOrigin: ${app.url}\r\n`);
  feed(socket, heard);
  return { socket, heard };
}

export const tests = {
  async "200 clients: slow, broken, 2 GB, endless and well ones"({ app, id }) {
    const before = memory(app.pid);
    const upload = `POST /piece/${id}/photos?name=x.jpg HTTP/1.1`;
    const all = [];
    const writes = (socket, bytes, every) => {
      const timer = setInterval(() => (socket.destroyed ? clearInterval(timer) : socket.write(bytes)), every);
      return timer;
    };
    // Sixty send a byte now and then.
    for (let k = 0; k < 60; k++) all.push(["slow", client(app, upload, (s) => { s.write("Content-Length: 5000000\r\n\r\n"); writes(s, "x", 500); })]);
    // Forty break off in the middle.
    for (let k = 0; k < 40; k++) all.push(["broken", client(app, upload, (s) => { s.write("Content-Length: 4000000\r\n\r\n" + "x".repeat(100000)); setTimeout(() => s.destroy(), 300); })]);
    // Forty say that 2 GB will come, and begin.
    const chunk = Buffer.alloc(1 << 16, 120);
    for (let k = 0; k < 40; k++) all.push(["huge", client(app, upload, (s) => { s.write("Content-Length: 2147483648\r\n\r\n"); writes(s, chunk, 5); })]);
    // Twenty never say how much, and never end.
    for (let k = 0; k < 20; k++) all.push(["endless", client(app, upload, (s) => {
      s.write("Transfer-Encoding: chunked\r\n\r\n");
      writes(s, Buffer.concat([Buffer.from("10000\r\n"), chunk, Buffer.from("\r\n")]), 5);
    })]);
    // Forty just look.
    const times = [];
    const well = Array.from({ length: 40 }, async () => {
      for (let k = 0; k < 8; k++) {
        const began = Date.now();
        const response = await fetch(`${app.url}/piece/${id}/board`, { headers: { accept: "text/html" } });
        assert.equal(response.status, 200);
        await response.text();
        times.push(Date.now() - began);
        await pause(400);
      }
    });
    let most = 0;
    const watch = setInterval(() => (most = Math.max(most, memory(app.pid))), 100);
    await Promise.all(well);
    await pause(3000);
    // Who goes on sending after a refusal may lose it with the connection; nobody is kept.
    const ended = (kind) => all.filter(([k]) => k === kind).every(([, c]) => /^HTTP\/1\.1 (413|503)/.test(c.heard.text) || (c.heard.text === "" && !c.heard.open));
    // On a busy machine these clients take long to send too much.
    for (let k = 0; k < 120 && !(ended("huge") && ended("endless")); k++) await pause(250);
    clearInterval(watch);
    const of = (kind) => all.filter(([k]) => k === kind).map(([, c]) => c.heard.text.split("\r\n")[0]);
    times.sort((a, b) => a - b);
    console.log(`      memory ${before.toFixed(0)} MB before, ${most.toFixed(0)} MB at most; pages in ${times[times.length >> 1]} ms in the middle, ${times.at(-1)} ms at worst`);
    assert.ok(ended("huge") && of("huge").some((line) => /^HTTP\/1\.1 (413|503)/.test(line)), of("huge").join("|"));
    assert.ok(ended("endless"), of("endless").join("|"));
    for (const [, c] of all) c.socket.destroy();
    assert.ok(most < 700, `${most} MB`);
    assert.ok(times.at(-1) < 10000, `${times.at(-1)} ms`);
    // And afterwards it is as it was.
    await pause(500);
    const { go } = await post(app, "/pieces", { name: "Quiet again" });
    assert.ok(go);
  },

  async "no upload that ended badly left a photo behind"({ app, id }) {
    const page = await (await fetch(`${app.url}/piece/${id}/capture`, { headers: { accept: "text/html" } })).text();
    assert.ok(page.includes("No photos yet"));
  },

  async "what is no photo is refused in words"({ app, id }) {
    for (const [bytes, status] of [[Buffer.from("hello"), 422], [Buffer.alloc(0), 422]]) {
      const response = await fetch(`${app.url}/piece/${id}/photos?name=x`, { method: "POST", body: bytes, headers: { origin: app.url } });
      assert.equal(response.status, status);
      const said = await response.json();
      assert.ok(said.problem.length > 10 && said.remedy.length > 5, JSON.stringify(said));
    }
  },
};
