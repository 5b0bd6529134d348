// The guide in a real browser: it opens from disk, fits, and is read without scripts.
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { browser, check, ensure, faults, open, violations } from "./bench.mjs";

export async function guide(program) {
  const folder = mkdtempSync(join(tmpdir(), "guide-"));
  const file = join(folder, "guide.html");
  execFileSync(program, ["guide", file, "--quiet"]);
  for (const [width, height] of [[1400, 900], [390, 844]]) {
    await check(`guide ${width} px: fits, asks for nothing, nothing that axe finds`, async () => {
      const context = await browser({ viewport: { width, height } });
      const { page, notes } = await open(context, pathToFileURL(file).href);
      ensure(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "wider than the window");
      ensure(notes.asked.length === 1 && !faults(notes).length, notes.asked.join("\n") + faults(notes).join("\n"));
      await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
      for (const link of await page.locator("nav a").all()) {
        const to = await link.getAttribute("href");
        ensure(await page.locator(to).count() === 1, `${to} leads nowhere`);
      }
      ensure(await page.locator(".picture svg").count() === 4, "pictures are missing");
      const found = await violations(page);
      ensure(!found.length, found.join("\n"));
      await context.close();
    });
  }
  await check("guide: the same bytes again", async () => {
    const first = readFileSync(file);
    execFileSync(program, ["guide", file, "--quiet"]);
    ensure(first.equals(readFileSync(file)), "other bytes");
  });
  rmSync(folder, { recursive: true });
}
