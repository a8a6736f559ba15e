// Runs every test in a real browser, prints one line each and a count that ./check adds up.
//
//   SETAPART_BINARY=… node run.js [NAME…]
//
// Times of a busy machine mean nothing: speed.js runs when it is named, or with SETAPART_LONG.
// Pictures of every page go to SETAPART_SHOTS (default: none are kept).
import { readdirSync } from "node:fs";

const files = readdirSync(new URL("tests/", import.meta.url)).filter((f) => f.endsWith(".js")).sort();
const wanted = process.argv.slice(2);
let passed = 0, failed = 0;
for (const file of files) {
  if (wanted.length > 0 && !wanted.some((w) => file.includes(w))) continue;
  if (file === "speed.js" && wanted.length === 0 && !process.env.SETAPART_LONG) continue;
  const { tests, before, after } = await import(`./tests/${file}`);
  const context = await before();
  for (const [name, test] of Object.entries(tests)) {
    const began = Date.now();
    try {
      await test(context);
      passed += 1;
      console.log(`ok    ${file}: ${name} (${Date.now() - began} ms)`);
    } catch (e) {
      failed += 1;
      console.log(`FAIL  ${file}: ${name}\n      ${e instanceof Error ? e.stack : e}`);
    }
  }
  await after(context);
}
console.log(`${passed} passed, ${failed} failed, 0 skipped`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
