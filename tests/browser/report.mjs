// The report in a real browser, from disk.
import { readFileSync, statSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { join } from "node:path";
import { browser, check, colours, ensure, faults, inaccessible, open, still } from "./bench.mjs";

const PARTS = { "plate-a": "blue", "plate-b": "sand", shot: "orange" };
const set = (page, id, value) =>
  page.locator("#" + id).evaluate((e, v) => {
    if (e.type === "checkbox") e.checked = v;
    else e.value = v;
    e.dispatchEvent(new Event("input", { bubbles: true }));
  }, value);

export async function report(packages) {
  const file = (name) => join(packages, name, "report.html");
  const address = (name) => pathToFileURL(file(name)).href;
  const context = await browser({ viewport: { width: 1280, height: 900 } });

  for (const name of ["coaster", "adaptor", "button"]) {
    await check(`report of ${name}: opens from disk, no error, nothing asked for`, async () => {
      const { page, notes } = await open(context, address(name));
      await page.waitForSelector("#view:not([hidden])");
      ensure(!faults(notes).length, faults(notes).join("\n"));
      ensure(notes.asked.every((a) => a === address(name)), notes.asked.join("\n"));
      await page.close();
    });
  }
  await check("the coaster's report is small", async () => {
    ensure(statSync(file("coaster")).size <= 1_500_000, `${statSync(file("coaster")).size} bytes`);
  });
  await check("each solid is seen in its colour, and switched off", async () => {
    const { page } = await open(context, address("coaster"));
    await page.waitForSelector("#view:not([hidden])");
    // Closed and pulled apart the shot is hidden: from the side it is seen between the plates.
    await page.locator("[data-look=front]").click();
    await set(page, "apart", 100);
    const all = await still(context, page);
    for (const [key, colour] of Object.entries(PARTS)) {
      ensure(all[colour] > all.all / 500, `${key}: ${all[colour]} of ${all.all} pixels`);
      await page.locator(`[data-body=${key}]`).uncheck();
      const without = await still(context, page);
      ensure(without[colour] < all[colour] / 10, `${key} off: ${without[colour]} of ${all[colour]} left`);
      await page.locator(`[data-body=${key}]`).check();
    }
    ensure((await still(context, page)).hash === all.hash, "all on again is another picture");
    await page.close();
  });
  await check("cutting open, pulling apart and keys change the picture", async () => {
    const { page } = await open(context, address("coaster"));
    await page.waitForSelector("#view:not([hidden])");
    const seen = new Set();
    const look = async (what) => {
      const now = (await still(context, page)).hash;
      ensure(!seen.has(now), `${what}: the same picture again`);
      seen.add(now);
    };
    await look("start");
    await set(page, "apart", 0);
    await look("closed");
    await set(page, "apart", 100);
    await look("apart");
    for (const axis of ["0", "1", "2"]) {
      await page.locator("#cut").selectOption(axis);
      await look(`cut ${axis}`);
    }
    await set(page, "cut-at", 300);
    await look("cut elsewhere");
    await page.locator("#cut-other").check();
    await look("other side");
    await page.locator("#stage").focus();
    await page.keyboard.press("ArrowRight");
    await look("turned by key");
    await page.keyboard.press("+");
    await look("nearer by key");
    await page.mouse.move(600, 400);
    const box = await page.locator("#stage").boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 90, box.y + box.height / 2 + 30, { steps: 4 });
    await page.mouse.up();
    await look("turned by hand");
    await page.close();
  });
  for (const colorScheme of ["light", "dark"]) {
    await check(`no serious accessibility fault (${colorScheme})`, async () => {
      const { page } = await open(context, address("coaster"));
      await page.emulateMedia({ colorScheme });
      const found = await inaccessible(page);
      ensure(!found.length, found.join("\n"));
      await page.close();
    });
  }
  await check("everything can be reached by key", async () => {
    const { page } = await open(context, address("coaster"));
    await page.waitForSelector("#view:not([hidden])");
    const wanted = await page.locator("main a, button, input, select, canvas").evaluateAll((all) => all.filter((e) => !e.disabled && e.offsetParent).length);
    const reached = new Set();
    for (let i = 0; i < wanted + 30; i++) {
      await page.keyboard.press("Tab");
      reached.add(await page.evaluate(() => [...document.querySelectorAll("*")].indexOf(document.activeElement)));
    }
    ensure(reached.size >= wanted, `${reached.size} of ${wanted} places reached`);
    await page.close();
  });
  await context.close();

  await check("on a phone nothing is wider than the screen", async () => {
    const phone = await browser({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 });
    for (const name of ["coaster", "adaptor"]) {
      const { page, notes } = await open(phone, address(name));
      await page.waitForSelector("#view:not([hidden])");
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      ensure(wide <= 360, `${name}: ${wide} px`);
      const seen = await colours(phone, page);
      ensure(name !== "coaster" || seen.blue > seen.all / 1000, `${seen.blue} blue pixels`);
      ensure(!faults(notes).length, faults(notes).join("\n"));
      await page.close();
    }
    await phone.close();
  });
  await check("without scripts the page can be read", async () => {
    const plain = await browser({ javaScriptEnabled: false });
    const page = await plain.newPage();
    await page.goto(address("coaster"));
    ensure(await page.locator("#view-message").isVisible(), "no message in place of the view");
    ensure((await page.locator("#drawings svg").count()) >= 2, "no drawings");
    ensure((await page.locator("#front svg").count()) === 1, "no picture of the fill");
    await plain.close();
  });
  await check("printed, it has pages and no controls", async () => {
    const context = await browser();
    const { page } = await open(context, address("coaster"));
    await page.emulateMedia({ media: "print" });
    ensure(!(await page.locator("#stage").isVisible()), "the canvas is printed");
    const pdf = await page.pdf({ format: "A4" });
    const pages = pdf.toString("latin1").match(/\/Type\s*\/Page\b/g)?.length ?? 0;
    ensure(pages >= 3 && pages < 60, `${pages} pages`);
    await context.close();
  });
  ensure(readFileSync(file("coaster"), "utf8").includes("Content-Security-Policy"), "no policy");
}
