// The live page in a real browser: saves, faults, sliders.
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { alike, browser, check, ensure, faults, inaccessible, open, still } from "./bench.mjs";

const PATIENCE = 60_000;

/** The program at work on a file or folder. */
export async function serve(program, what) {
  const child = spawn(program, ["live", ...what, "--port", "0", "--quiet"], { stdio: ["ignore", "pipe", "inherit"] });
  const url = await new Promise((done, fail) => {
    child.stdout.once("data", (d) => done(String(d).trim()));
    child.once("exit", (code) => fail(new Error(`the program ended with ${code}`)));
  });
  return {
    url,
    // Milliseconds of processor time so far, where the system tells (in hundredths of a second).
    processor() {
      try {
        const fields = readFileSync(`/proc/${child.pid}/stat`, "utf8").split(") ")[1].split(" ");
        return 10 * (Number(fields[11]) + Number(fields[12]));
      } catch {
        return NaN;
      }
    },
    async end() {
      const over = new Promise((done) => child.once("exit", done));
      child.kill("SIGINT");
      await over;
    },
  };
}
/** The program at work on a file of its own. */
export async function follow(program, text, beside = {}) {
  const folder = mkdtempSync(join(tmpdir(), "follow-"));
  const file = join(folder, "coaster.toml");
  writeFileSync(file, text);
  for (const [name, bytes] of Object.entries(beside)) writeFileSync(join(folder, name), bytes);
  const served = await serve(program, [file]);
  return {
    ...served,
    file, folder,
    async end() {
      await served.end();
      rmSync(folder, { recursive: true });
    },
  };
}
export const phase = (page, name) => page.waitForSelector(`#state[data-phase=${name}]`, { timeout: PATIENCE });
const value = (page, id, wanted) =>
  page.waitForFunction(([id, wanted]) => document.getElementById(id)?.value === wanted, [id, wanted], { timeout: PATIENCE });

export async function live(program, text) {
  const at = await follow(program, text);
  const context = await browser({ viewport: { width: 1280, height: 900 } });
  const { page, notes } = await open(context, at.url);
  const other = await open(context, at.url);

  await check("live: solids, findings and fill appear", async () => {
    await page.bringToFront();
    await phase(page, "done");
    const seen = await still(context, page);
    ensure(seen.blue > seen.all / 500 && seen.sand > seen.all / 500, JSON.stringify(seen));
    ensure((await page.locator("#verdict b").textContent()).includes("RELEASED"), "no verdict");
    ensure((await page.locator("#front svg").count()) === 1, "no picture of the fill");
  });
  await check("live: a save is shown and the camera stays", async () => {
    const start = await still(context, page);
    await page.locator("#stage").focus();
    for (const k of ["ArrowRight", "ArrowRight", "ArrowUp", "+"]) {
      await page.keyboard.press(k);
      // Drawn in the frame after the next, which a busy machine may show late.
      await page.evaluate(() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn))));
    }
    const before = await still(context, page);
    ensure(!alike(before, start), "the keys did not move the camera");
    const states = await page.evaluate(() => Number(document.documentElement.dataset.shown));
    writeFileSync(at.file, text.replace("Coaster with rings", "Coaster, renamed"));
    await page.waitForFunction(() => document.getElementById("title").textContent === "Coaster, renamed", null, { timeout: PATIENCE });
    // While the file is computed, the words above the picture may take another line and shift it by part of a pixel.
    await page.waitForFunction((n) => Number(document.documentElement.dataset.shown) > n, states, { timeout: PATIENCE });
    await phase(page, "done");
    ensure(alike(await still(context, page), before), "the picture moved");
    renameSync(at.file, at.file + "~");
    writeFileSync(at.file, text.replace("thickness = 4", "thickness = 6"));
    await value(page, "n-part-thickness", "6");
    await phase(page, "done");
    ensure(!alike(await still(context, page), before), "the picture is that of the old file");
  });
  await check("live: a fault is shown in place, the model stays", async () => {
    const before = await still(context, page);
    writeFileSync(at.file, text.replace("thickness", "thicknes"));
    await phase(page, "broken");
    const fault = await page.locator("#fault").innerText();
    ensure(/thicknes\b/.test(fault) && /did you mean/.test(fault), fault);
    ensure(alike(await still(context, page), before), "the model changed");
    writeFileSync(at.file, text);
    await phase(page, "done");
    ensure(!(await page.locator("#fault").isVisible()), "the fault is still shown");
  });
  await check("live: a number moved is shown in every page, and written only when asked", async () => {
    await value(page, "n-part-thickness", "4");
    await page.locator("#n-part-thickness").fill("5.5");
    await page.waitForSelector("[data-number='part.thickness'].trial", { timeout: PATIENCE });
    await phase(page, "done");
    ensure(readFileSync(at.file, "utf8") === text, "the file was written");
    await other.page.bringToFront();
    await value(other.page, "n-part-thickness", "5.5");
    await page.bringToFront();
    await page.locator("#drop").click();
    await value(page, "n-part-thickness", "4");
    const slider = page.locator("[data-number='part.thickness'] input[type=range]");
    await slider.focus();
    for (let i = 0; i < 5; i++) await page.keyboard.press("ArrowRight");
    await page.waitForSelector("[data-number='part.thickness'].trial", { timeout: PATIENCE });
    await phase(page, "done");
    const moved = await page.locator("#n-part-thickness").inputValue();
    ensure(Number(moved) > 4, `the slider stands at ${moved}`);
    await page.locator("#write").click();
    await page.waitForSelector("#trial", { state: "hidden", timeout: PATIENCE });
    await phase(page, "done");
    const now = readFileSync(at.file, "utf8");
    ensure(now === text.replace("thickness = 4", `thickness = ${moved}`), "more than the number changed, or nothing");
    ensure(now.includes("# N") || now.includes("#"), "the comments are gone");
  });
  await check("live: the package comes as an archive", async () => {
    await page.locator("#fold-package > summary").click();
    const [download] = await Promise.all([
      page.waitForEvent("download", { timeout: 3 * PATIENCE }),
      page.locator("#zip").click(),
    ]);
    ensure(download.suggestedFilename() === "coaster.zip", download.suggestedFilename());
    const bytes = readFileSync(await download.path());
    ensure(bytes.subarray(0, 2).toString() === "PK" && bytes.includes("coaster/plate-a.step"), "no package");
  });
  await check("live: no error, and only the program is asked", async () => {
    for (const n of [notes, other.notes]) {
      ensure(!faults(n).length, faults(n).join("\n"));
      ensure(n.asked.every((a) => a.startsWith(at.url) || a.startsWith("data:")), n.asked.join("\n"));
    }
  });
  for (const colorScheme of ["light", "dark"]) {
    await check(`live: no serious accessibility fault (${colorScheme})`, async () => {
      await page.emulateMedia({ colorScheme });
      const found = await inaccessible(page);
      ensure(!found.length, found.join("\n"));
    });
  }
  await check("live: fits a phone", async () => {
    await page.setViewportSize({ width: 360, height: 740 });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    ensure(wide <= 360, `${wide} px`);
  });
  await check("live: a deleted file and a program that ended are said", async () => {
    rmSync(at.file);
    await phase(page, "gone");
    writeFileSync(at.file, text);
    await phase(page, "done");
    await at.end();
    await page.waitForSelector("#state:is([data-phase=ended],[data-phase=away])", { timeout: PATIENCE });
  });
  await context.close();
}
