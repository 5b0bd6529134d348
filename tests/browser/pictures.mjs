// The pictures of the README: node tests/browser/pictures.mjs PROGRAM; written into out/pictures.
// The README is the only one that needs them: made again by hand when the pages look otherwise.
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browser, open, still } from "./bench.mjs";
import { follow, phase, serve } from "./live.mjs";

const program = process.argv[2] ?? "target/release/platewright";
const root = new URL("../../", import.meta.url).pathname;
const into = join(root, "out/pictures");
mkdirSync(into, { recursive: true });
const context = await browser({ viewport: { width: 1400, height: 860 }, colorScheme: "light" });
const shot = (page, name) => page.screenshot({ path: join(into, name + ".png") });

const at = await follow(program, readFileSync(join(root, "templates/coaster.toml"), "utf8"));
const { page } = await open(context, at.url);
await phase(page, "done");
await page.locator("#n-part-thickness").fill("5");
await page.waitForTimeout(2000);
await phase(page, "done");
await still(context, page);
await shot(page, "page");
await at.end();

const home = mkdtempSync(join(tmpdir(), "shed-"));
const shed = join(home, "saltmarsh");
mkdirSync(shed);
for (const name of ["coaster.toml", "button.toml", "fish.toml", "fish.svg", "wheel.toml", "cup.toml", "adaptor.toml", "gear.toml", "tag.toml"]) {
  cpSync(join(root, "templates", name), join(shed, name));
}
const list = await serve(program, [shed]);
await page.goto(list.url);
await page.waitForFunction(() => document.documentElement.dataset.open === "0", null, { timeout: 300_000 });
await shot(page, "folder");
await list.end();
rmSync(home, { recursive: true });
await context.close();
