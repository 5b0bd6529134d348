// The report in a real browser, from disk.
import { mkdtempSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { tmpdir } from "node:os";
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
  await check("screws, washers and dowels are switched off and on, the melt front moves", async () => {
    const { page } = await open(context, address("coaster"));
    await page.waitForSelector("#view:not([hidden])");
    const hardware = page.locator("#switches [data-body^=hardware]");
    ensure((await hardware.count()) === 3, `${await hardware.count()} switches of bought pieces`);
    const all = await still(context, page);
    // Washers lie under the heads, in their counterbores: nobody sees them from outside.
    for (const i of [0, 2]) {
      await hardware.nth(i).uncheck();
      ensure((await still(context, page)).hash !== all.hash, `bought piece ${i} makes no difference`);
      await hardware.nth(i).check();
    }
    ensure((await still(context, page)).hash === all.hash, "all on again is another picture");
    await page.locator("[data-body=plate-a]").uncheck();
    const seen = new Set([(await still(context, page)).hash]);
    await page.locator("#melt-on").check();
    for (const at of [0, 40, 100]) {
      await set(page, "melt-at", at);
      seen.add((await still(context, page)).hash);
    }
    ensure(seen.size === 4, `${seen.size} pictures of four`);
    await page.close();
  });
  await check("a tap and the list tell a feature's sizes and their reasons", async () => {
    const { page } = await open(context, address("adaptor"));
    await page.waitForSelector("#view:not([hidden])");
    await page.locator("[data-look=nozzle]").click();
    const plain = await still(context, page);
    const stage = page.locator("#stage");
    const box = await stage.boundingBox();
    const tap = (x, y) => stage.click({ position: { x: box.width * x, y: box.height * y } });
    const told = () => page.locator("#picked").innerText();
    await page.locator("#feature").selectOption({ index: 2 });
    const listed = await told();
    ensure(/N1 .*nozzle seat/.test(listed) && listed.includes("G 1/2") && listed.includes("nozzle.thread"), listed);
    ensure((await still(context, page)).hash !== plain.hash, "what is picked is not shown");
    await page.locator("[data-look=home]").click();
    await still(context, page);
    const found = new Set();
    for (let i = 0; i < 400 && found.size < 3; i++) {
      await tap(0.25 + 0.025 * (i % 20), 0.2 + 0.03 * Math.floor(i / 20));
      const text = await told();
      if (text) found.add(text.split(" ")[0]);
    }
    ensure(found.size >= 3, `taps found ${[...found]}`);
    await tap(0.01, 0.01);
    ensure(!(await page.locator("#picked").isVisible()), "a tap beside everything picks something");
    await page.close();
  });
  await check("tables and pictures are in the page", async () => {
    const text = readFileSync(file("coaster"), "utf8");
    for (const id of ["holes", "card", "front", "pressures", "heat"]) ensure(text.includes(`id="${id}"`), id);
    const { page } = await open(context, address("coaster"));
    ensure((await page.locator("#holes tbody tr").count()) > 10, "the hole tables are short");
    for (const unit of ["time, s", "MPa", "°C"]) ensure(text.includes(`>${unit}<`), unit);
    ensure((await page.locator("#card").innerText()).includes("Barrel"), "no process card");
    await page.close();
  });
  await check("no other script than the page's own runs", async () => {
    const page = await context.newPage();
    const text = readFileSync(file("adaptor"), "utf8").replace("</main>", "<script>document.title = 'foreign'</script></main>");
    const other = join(mkdtempSync(join(tmpdir(), "foreign-")), "report.html");
    writeFileSync(other, text);
    await page.goto(pathToFileURL(other).href);
    await page.waitForSelector("#view:not([hidden])");
    ensure((await page.title()) !== "foreign", "a foreign script ran");
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
