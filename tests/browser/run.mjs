// The pages in a real browser: node run.mjs PROGRAM PACKAGES. The last line is "PASSED FAILED".
import { readFileSync } from "node:fs";
import { finish } from "./bench.mjs";
import { live } from "./live.mjs";
import { report } from "./report.mjs";

const [program, packages] = process.argv.slice(2);
await report(packages);
await live(program, readFileSync(new URL("../../templates/coaster.toml", import.meta.url), "utf8"));
finish();
