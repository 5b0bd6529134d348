// What somebody does on the live page, counted in actions: a click, a field that is filled, a key.
import { readFileSync } from "node:fs";
import { browser, check, ensure, faults, open, violations } from "./bench.mjs";
import { follow, phase } from "./live.mjs";

const PATIENCE = 300_000;
const SIZES = [[1400, 900], [390, 844]];

/** Hands that count what they do. */
function hands(page) {
  const one = (work) => async (...rest) => {
    counted.actions += 1;
    await work(...rest);
  };
  const counted = {
    actions: 0,
    click: one((what) => page.locator(what).first().click()),
    fill: one((what, text) => page.locator(what).fill(text)),
  };
  return counted;
}

/** Every verdict that was seen while the page said that it computes. */
const watch = (page) => page.evaluate(() => {
  window.early = [];
  const look = () => {
    const phase = document.getElementById("state").dataset.phase;
    const green = document.querySelector("#verdict .go");
    if (green && phase !== "done") window.early.push(phase + ": " + green.textContent);
  };
  new MutationObserver(look).observe(document.getElementById("top"), { subtree: true, childList: true, attributes: true, characterData: true });
});

/** Whether all of it lies in the window as it is. */
const inSight = (page, what) => page.locator(what).first().evaluate((e) => {
  const b = e.getBoundingClientRect();
  return b.width > 0 && b.top >= 0 && b.bottom <= innerHeight + 1 && b.left >= 0 && b.right <= innerWidth + 1;
});
const noteOf = (page, key) => page.locator(`[data-number='${key}'] .note`).innerText();

export async function tasks(program, coaster, bowing) {
  for (const [width, height] of SIZES) {
    const at = await follow(program, coaster);
    const context = await browser({ viewport: { width, height }, reducedMotion: width < 500 ? "reduce" : "no-preference" });
    const { page, notes } = await open(context, at.url);
    const named = (what, work) => check(`live ${width} px: ${what}`, work);

    await named("picture, verdict and the part's first numbers are in the first screen", async () => {
      await phase(page, "done");
      for (const what of ["#stage", "#verdict", "#findings h2", "#n-part-thickness"]) ensure(await inSight(page, what), what);
      ensure(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "wider than the window");
      const tall = await page.evaluate(() => document.documentElement.scrollHeight / innerHeight);
      ensure(tall < 3, `${tall.toFixed(1)} screens before anything is opened`);
    });
    await named("the picture stays in sight while the rest scrolls", async () => {
      await page.evaluate(() => scrollTo(0, document.getElementById("numbers").offsetTop + 200));
      await page.waitForTimeout(200);
      for (const what of ["#stage", "#verdict"]) ensure(await inSight(page, what), what);
      await page.evaluate(() => scrollTo(0, 0));
    });
    await named("a wall 1 mm thicker and what it costs: 1 action", async () => {
      await watch(page);
      const hand = hands(page);
      await hand.fill("#n-part-thickness", "5");
      await phase(page, "done");
      await page.waitForFunction(() => /cycle/.test(document.querySelector("[data-number='part.thickness'] .note").textContent), null, { timeout: PATIENCE });
      const note = await noteOf(page, "part.thickness");
      // The wall of 4 mm weighs 21.3 g; one of 5 mm a quarter more, less what the rings take.
      const [, was, is] = note.match(/part ([\d.]+) → ([\d.]+) g/).map(Number);
      ensure(is / was > 1.2 && is / was < 1.35, note);
      ensure(/plates .* kg/.test(note) && /cycle \d+ → \d+ s/.test(note) && /machining .* h/.test(note), note);
      ensure(hand.actions === 1, `${hand.actions} actions`);
      ensure(readFileSync(at.file, "utf8") === coaster, "the file was written");
      const early = await page.evaluate(() => window.early);
      ensure(!early.length, `green too early: ${early.join("; ")}`);
      await page.locator("#drop").click();
      await page.waitForSelector("#trial", { state: "hidden" });
      await phase(page, "done");
    });
    await named("the plate's thickness taken over: 3 actions, and let go: 2", async () => {
      const hand = hands(page);
      await hand.fill("#find", "thickness_b");
      const value = await page.locator("[data-number='mold.thickness_b'] input[type=number]").inputValue();
      await hand.click("[data-number='mold.thickness_b'] .act button");
      await page.waitForSelector("[data-number='mold.thickness_b'].trial");
      await hand.click("#write");
      await page.waitForSelector("#trial", { state: "hidden" });
      ensure(hand.actions === 3, `${hand.actions} actions`);
      ensure(readFileSync(at.file, "utf8").includes(`thickness_b = ${value}\n`), "not in the file");
      await phase(page, "done");
      const again = hands(page);
      await again.click("[data-number='mold.thickness_b'] .act button:has-text('let go')");
      await page.waitForSelector("[data-number='mold.thickness_b'].trial");
      await again.click("#write");
      await page.waitForSelector("#trial", { state: "hidden" });
      ensure(again.actions === 2 && !/^thickness_b/m.test(readFileSync(at.file, "utf8")), "not let go");
      await page.locator("#find").fill("");
      await phase(page, "done");
    });
    await named("a key that the file leaves out is found by its meaning and tried", async () => {
      await page.locator("#find").fill("true thread");
      await page.locator("#others button").first().click();
      await page.waitForFunction(() => document.getElementById("trial-text").textContent.includes("output.thread_form = "));
      await page.locator("#drop").click();
      await page.waitForSelector("#trial", { state: "hidden" });
      await page.locator("#find").fill("");
      await phase(page, "done");
    });
    await named("versions say what each save changed, and go back", async () => {
      await page.locator("#fold-versions > summary").click();
      const first = page.locator("#versions ol > li").last();
      await first.locator("button").click();
      await page.waitForFunction((n) => document.querySelectorAll("#versions ol > li").length === n, 4);
      await phase(page, "done");
      ensure(readFileSync(at.file, "utf8") === coaster, "not the file of the beginning");
    });
    await named("by keys alone: focus is seen, and stays where it was", async () => {
      await page.locator("#n-part-thickness").focus();
      await page.keyboard.press("Tab");
      const slider = await page.evaluate(() => document.activeElement.getAttribute("aria-label"));
      ensure(slider === "part.thickness, slider", slider);
      await page.keyboard.press("ArrowRight");
      await page.waitForSelector("[data-number='part.thickness'].trial");
      await phase(page, "done");
      ensure(await page.evaluate(() => document.activeElement.getAttribute("aria-label")) === slider, "the focus is lost");
      ensure(await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle) !== "none", "no focus is seen");
      await page.locator("#drop").click();
      await phase(page, "done");
    });
    for (const colorScheme of ["light", "dark"]) {
      await named(`nothing that axe finds, all folds open (${colorScheme})`, async () => {
        await page.emulateMedia({ colorScheme });
        await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
        const found = await violations(page);
        ensure(!found.length, found.join("\n"));
      });
    }
    await named("no error", async () => {
      ensure(!faults(notes).length, faults(notes).join("\n"));
    });
    await context.close();
    await at.end();
    await cure(program, bowing, width, height);
  }
}

async function cure(program, bowing, width, height) {
  const at = await follow(program, bowing);
  const context = await browser({ viewport: { width, height } });
  const { page } = await open(context, at.url);
  await check(`live ${width} px: the flash is cured: 2 actions`, async () => {
    const hand = hands(page);
    await page.waitForSelector("[data-code=plates-bow] .tried button", { timeout: PATIENCE });
    for (const what of ["#stage", "#verdict", ".finding.stop h3", ".finding.stop .tried button", "#n-part-thickness"]) ensure(await inSight(page, what), what);
    ensure(await page.locator("#verdict .halt").count() === 1, "not halted");
    await hand.click("[data-code=plates-bow] .tried button");
    await page.waitForSelector("#trial:not([hidden])");
    await page.waitForSelector("#verdict .go", { timeout: PATIENCE });
    await hand.click("#write");
    await page.waitForSelector("#trial", { state: "hidden" });
    ensure(hand.actions === 2, `${hand.actions} actions`);
    await phase(page, "done");
    ensure(readFileSync(at.file, "utf8") !== bowing, "the file is as before");
    ensure(await page.locator("#verdict .go").count() === 1, "not released");
  });
  await context.close();
  await at.end();
}
