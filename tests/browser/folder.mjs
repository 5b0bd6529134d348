// The page of a folder in a real browser: from nothing to a package, without a terminal.
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browser, check, ensure, faults, open, violations } from "./bench.mjs";
import { phase, serve } from "./live.mjs";

const PATIENCE = 300_000;
const BIRD = `<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">
<path d="M6 20 C6 6 40 2 54 20 C40 38 6 34 6 20 Z"/></svg>`;

const computed = (page) => page.waitForFunction(() => document.documentElement.dataset.open === "0", null, { timeout: PATIENCE });
const nothing = async (page, what) => {
  const found = await violations(page);
  ensure(!found.length, `${what}: ${found.join("\n")}`);
  ensure(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${what}: wider than the window`);
};

export async function folder(program, fish) {
  for (const [width, height] of [[1400, 900], [390, 844]]) {
    const at = mkdtempSync(join(tmpdir(), "shed-"));
    const served = await serve(program, [at]);
    const context = await browser({ viewport: { width, height } });
    const { page, notes } = await open(context, served.url);
    const named = (what, work) => check(`folder ${width} px: ${what}`, work);

    await named("an empty folder says so, and the bare address says nothing", async () => {
      await page.waitForFunction(() => document.getElementById("files").innerText.includes("no parameter file"));
      await nothing(page, "empty");
      const bare = await context.request.get(new URL("/", served.url).href);
      ensure(bare.status() === 404, `${bare.status()}`);
    });
    await named("answers make a file, and its package comes as an archive: 7 actions", async () => {
      await page.locator("#questions").click();
      await page.waitForSelector("#question input");
      await nothing(page, "questions");
      await page.locator("#next").click(); // units
      await page.locator("#question input[value=round]").click();
      await page.locator("#next").click();
      await page.locator("#usual").click();
      await phase(page, "done");
      ensure((await page.locator("#verdict b").textContent()).includes("RELEASED"), "no verdict");
      ensure(existsSync(join(at, "round.toml")), "no file");
      await page.locator("#fold-package > summary").click();
      const [download] = await Promise.all([
        page.waitForEvent("download", { timeout: PATIENCE }),
        page.locator("#zip").click(),
      ]);
      const bytes = readFileSync(await download.path());
      ensure(bytes.includes("round/plate-a.step") && bytes.includes("round/report.html"), "no package");
    });
    await named("a study of two numbers is drawn on the file's page", async () => {
      await page.locator("#fold-study > summary").click();
      const fields = page.locator("#vary .axis-of");
      for (const [i, key, from, to] of [[0, "part.thickness", "3", "5"], [1, "part.draft", "1", "3"]]) {
        const one = fields.nth(i);
        await one.locator("select").selectOption(key);
        for (const [k, value] of [from, to, "2"].entries()) await one.locator("input").nth(k).fill(value);
      }
      await page.locator("#study-go").click();
      await page.waitForFunction(() => / free of stops and warnings/.test(document.getElementById("study-said").textContent), null, { timeout: PATIENCE });
      ensure(await page.locator("#study-plot svg rect").count() >= 5, "no tiles");
      await page.waitForSelector("#study-stop", { state: "hidden" });
      await nothing(page, "study");
    });
    await named("the way back; the list has picture and verdict", async () => {
      await page.locator("#home a").click();
      await page.waitForSelector(".file");
      await computed(page);
      const card = page.locator(".file[data-file='round.toml']");
      ensure((await card.innerText()).includes("RELEASED"), await card.innerText());
      ensure(await card.locator("img").evaluate((i) => i.complete && i.naturalWidth > 100), "no picture");
      await nothing(page, "list");
    });
    await named("a drawing that is dropped becomes a part", async () => {
      const given = await page.evaluateHandle((text) => {
        const all = new DataTransfer();
        all.items.add(new File([text], "Großer Vogel.svg", { type: "image/svg+xml" }));
        return all;
      }, BIRD);
      await page.dispatchEvent("#drop", "drop", { dataTransfer: given });
      await page.waitForSelector("#question input");
      ensure(readFileSync(join(at, "Gro-er-Vogel.svg"), "utf8") === BIRD, "other bytes");
      await page.locator("#usual").click();
      await phase(page, "done");
      ensure(/Vogel.svg/.test(readFileSync(join(at, "gro-er-vogel.toml"), "utf8")), "the drawing is not named");
      await page.locator("#home a").click();
    });
    await named("a starter under a name of its own; one that exists is refused", async () => {
      await page.waitForSelector("#which");
      await page.locator("#which").selectOption("fish");
      await page.locator("#called").fill("round");
      await page.locator("#starter button").click();
      await page.waitForFunction(() => document.getElementById("answer").textContent.includes("round.toml exists"));
      await page.locator("#called").fill("pike");
      await page.locator("#starter button").click();
      await page.waitForSelector("#state[data-phase]", { timeout: PATIENCE });
      ensure(readFileSync(join(at, "pike.toml"), "utf8").includes('name = "pike"'), "another name");
      ensure(readFileSync(join(at, "fish.svg"), "utf8") === fish, "another drawing");
      await page.goBack();
    });
    await named("a file with a fault says where", async () => {
      writeFileSync(join(at, "bad.toml"), "[part]\nthicknes = 3\n");
      await page.waitForFunction(() => document.querySelector(".file[data-file='bad.toml'][data-state=fault]")?.innerText.includes("line 1: "), null, { timeout: PATIENCE });
      const others = faults(notes).filter((e) => !/status of (404|409)/.test(e));
      ensure(!others.length, others.join("\n"));
      ensure(notes.asked.every((a) => a.startsWith(served.url) || a.startsWith("data:") || a.startsWith("blob:")), notes.asked.join("\n"));
    });
    await context.close();
    await served.end();
    rmSync(at, { recursive: true });
  }
}
