// How long from a save to new solids drawn in the page, to the first findings, and to the verdict
// with everything computed: median and 95 % over 50 saves (findings and verdict over every fifth, the others are
// overtaken); and the program's processor time for it.
//   cargo build --release && node tests/bench/live.mjs target/release/platewright [SAVES [JOB]]
// Needs Chromium and tests/browser/node_modules (bash tests/run.sh browser puts them there).
import { readFileSync, writeFileSync } from "node:fs";
import { browser, open } from "../browser/bench.mjs";
import { follow, phase } from "../browser/live.mjs";

const SAVES = Number(process.argv[3] ?? 50);
const coaster = readFileSync(new URL("../../templates/coaster.toml", import.meta.url), "utf8");
const holes = Array.from({ length: 40 }, (_, i) =>
  `[[part.hole]]\nat = [${((i % 8) - 3.5) * 13}, ${(Math.floor(i / 8) - 2) * 13}]\ndiameter = ${3 + (i % 4)}\n`).join("\n");
const sieve = coaster.split("[part]")[0] + `[part]\nthickness = 4\ndraft = 2\n[part.outline]\nshape = "rectangle"\nwidth = 120\nheight = 80\ncorner_radius = 6\n${holes}`;

const jobs = {
  "coaster, thickness": [coaster, (t, i) => t.replace("thickness = 4", `thickness = ${(4 + i / 100).toFixed(2)}`)],
  "coaster, screws": [coaster, (t, i) => `${t}\n[bolts]\nsize = "${["M8", "M10"][i % 2]}"\n`],
  "40 holes, thickness": [sieve, (t, i) => t.replace("thickness = 4", `thickness = ${(4 + i / 100).toFixed(2)}`)],
  "40 holes, one moved": [sieve, (t, i) => t.replace("diameter = 3\n", `diameter = ${(3 + i / 100).toFixed(2)}\n`)],
};

const program = process.argv[2] ?? "target/release/platewright";
for (const [name, [text, change]] of Object.entries(jobs)) {
  if (!name.startsWith(process.argv[4] ?? "")) continue;
  const at = await follow(program, text);
  const context = await browser({ viewport: { width: 1000, height: 800 } });
  const { page } = await open(context, at.url);
  await phase(page, "done");
  const times = [], judged = [], work = [], whole = [];
  for (let i = 1; i <= SAVES; i++) {
    // When a state of another text than now comes, and what is drawn by then.
    const phases = (wanted) => page.evaluate(([wanted, before]) => new Promise((done) => {
      const root = document.documentElement;
      const now = () => performance.timeOrigin + performance.now();
      const look = () => {
        const [phase, base] = root.dataset.of.split(" ");
        if (base === before || !wanted.includes(phase)) return;
        watch.disconnect();
        requestAnimationFrame(() => setTimeout(() => done(now())));
      };
      const watch = new MutationObserver(look);
      watch.observe(root, { attributes: true });
      look();
    }), [wanted, base]);
    const base = await page.evaluate(() => document.documentElement.dataset.of.split(" ")[1]);
    const drawn = phases(["checking", "filling", "done"]);
    const wholly = i % 5 === 0;
    const found = wholly && phases(["filling", "done"]);
    const all = wholly && phases(["done"]);
    const saved = performance.timeOrigin + performance.now();
    const before = at.processor();
    writeFileSync(at.file, change(text, i));
    times.push((await drawn) - saved);
    // Now and then the fill is waited for, now and then it is overtaken.
    if (wholly) {
      judged.push((await found) - saved);
      whole.push((await all) - saved);
      work.push(at.processor() - before);
    } else await page.waitForTimeout(100);
  }
  const at95 = (list, share) => list.toSorted((a, b) => a - b)[Math.min(list.length - 1, Math.floor(list.length * share))];
  console.log(`${name.padEnd(22)} drawn after ${at95(times, 0.5).toFixed(0)} ms (95 %: ${at95(times, 0.95).toFixed(0)} ms); findings after ${at95(judged, 0.5).toFixed(0)} ms (95 %: ${at95(judged, 0.95).toFixed(0)} ms), ${at95(work, 0.5).toFixed(0)} ms of processor time; complete after ${(at95(whole, 0.5) / 1000).toFixed(2)} s (95 %: ${(at95(whole, 0.95) / 1000).toFixed(2)} s)`);
  await context.close();
  await at.end();
}
