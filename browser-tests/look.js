// Pictures of pages, for people to look at.
import { mkdirSync } from "node:fs";
import { join } from "node:path";

const folder = process.env.SETAPART_SHOTS;

/** Keeps a picture of the page, where anyone wants one. */
export async function shoot(page, name) {
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`) });
}
