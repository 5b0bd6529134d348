// A browser, a place to note what passes, and eyes for pictures.
import { chromium } from "playwright-core";
import { mkdtempSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";

const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync",
  "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
];
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** A browser with a profile of its own. */
export async function browser(options = {}) {
  const profile = mkdtempSync(join(tmpdir(), "page-"));
  const executablePath = process.env.CHROMIUM ?? "/usr/bin/chromium";
  return chromium.launchPersistentContext(profile, { executablePath, headless: true, args: FLAGS, bypassCSP: false, ...options });
}

let passed = 0;
const failed = [];
/** One check; what it throws is printed, and the others go on. */
export async function check(name, work) {
  const begun = Date.now();
  try {
    await work();
    passed += 1;
    console.log(`ok      ${name} (${Date.now() - begun} ms)`);
  } catch (e) {
    failed.push(name);
    console.log(`FAILED  ${name}\n${e.stack ?? e}`);
  }
}
/** The last line of the suite. */
export function finish() {
  console.log(`${passed} ${failed.length}`);
  process.exit(failed.length ? 1 : 0);
}
export function ensure(holds, what) {
  if (!holds) throw new Error(what);
}

/** A page that notes errors and every address it asks for. */
export async function open(context, address) {
  const page = await context.newPage();
  const notes = { errors: [], asked: [] };
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && notes.errors.push(m.text()));
  page.on("pageerror", (e) => notes.errors.push(String(e)));
  page.on("request", (r) => notes.asked.push(r.url()));
  await page.goto(address);
  return { page, notes };
}

/** Software drawing says so; that is no fault of the page. */
export const faults = (notes) => notes.errors.filter((e) => !/GPU stall|swiftshader|software WebGL|GroupMarkerNotSet/i.test(e));

/** How much of a picture has which hue: counts by name, and the whole. */
export async function colours(context, page) {
  const png = (await page.locator("#stage").screenshot()).toString("base64");
  const eye = await context.newPage();
  const seen = await eye.evaluate(async (data) => {
    const picture = new Image();
    picture.src = "data:image/png;base64," + data;
    await picture.decode();
    const canvas = new OffscreenCanvas(picture.width, picture.height);
    const c = canvas.getContext("2d");
    c.drawImage(picture, 0, 0);
    const d = c.getImageData(0, 0, canvas.width, canvas.height).data;
    const count = { blue: 0, sand: 0, orange: 0, all: d.length / 4, hash: 0 };
    for (let i = 0; i < d.length; i += 4) {
      const [r, g, b] = [d[i], d[i + 1], d[i + 2]];
      count.hash = (count.hash * 31 + r * 7 + g * 3 + b) >>> 0;
      const most = Math.max(r, g, b), least = Math.min(r, g, b), span = most - least;
      if (span < 24 || most < 40) continue;
      const hue = 60 * (most === r ? ((g - b) / span + 6) % 6 : most === g ? (b - r) / span + 2 : (r - g) / span + 4);
      if (hue > 190 && hue < 230) count.blue += 1;
      else if (hue > 32 && hue < 56) count.sand += 1;
      else if (hue < 28 || hue > 350) count.orange += 1;
    }
    return count;
  }, png);
  await eye.close();
  return seen;
}

/** Whether two pictures show the same, but for a shift by part of a pixel. */
export const alike = (a, b) => ["blue", "sand", "orange"].every((c) => Math.abs(a[c] - b[c]) <= 20 + 0.02 * a[c]);

/** Settles until two pictures in a row are the same. */
export async function still(context, page) {
  await page.waitForFunction(() => document.getElementById("stage").dataset.picture === "sharp");
  let before = await colours(context, page);
  for (let i = 0; i < 20; i++) {
    await page.waitForTimeout(60);
    const now = await colours(context, page);
    if (now.hash === before.hash) return now;
    before = now;
  }
  throw new Error("the picture does not come to rest");
}

/** Serious accessibility faults, one line each. */
export const inaccessible = (page) => violations(page, ["serious", "critical"]);

/** Accessibility faults, of what is out of sight as well; of these impacts, or all. */
export async function violations(page, impacts) {
  await page.evaluate(() => document.querySelectorAll("section").forEach((s) => { s.style.contentVisibility = "visible"; }));
  const result = await page.evaluate(async (axe) => {
    // Through the debugger, past the page's policy, which stays as it is.
    (0, eval)(axe);
    return window.axe.run(document, { resultTypes: ["violations"] });
  }, AXE).catch(async () => {
    // The policy forbids eval: hand the text to the debugger itself.
    const session = await page.context().newCDPSession(page);
    await session.send("Runtime.evaluate", { expression: AXE + ";0" });
    const r = await session.send("Runtime.evaluate", {
      expression: "axe.run(document, { resultTypes: ['violations'] })", awaitPromise: true, returnByValue: true,
    });
    return r.result.value;
  });
  return result.violations
    .filter((v) => !impacts || impacts.includes(v.impact))
    .map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120)).join(" | ")}`);
}
