// The pages in a real browser: node run.mjs PROGRAM PACKAGES. The last line is "PASSED FAILED".
import { readFileSync } from "node:fs";
import { finish } from "./bench.mjs";
import { folder } from "./folder.mjs";
import { guide } from "./guide.mjs";
import { live } from "./live.mjs";
import { report } from "./report.mjs";
import { tasks } from "./tasks.mjs";

const [program, packages] = process.argv.slice(2);
await report(packages);
await guide(program);
const text = (path) => readFileSync(new URL("../../" + path, import.meta.url), "utf8");
await live(program, text("templates/coaster.toml"));
await tasks(program, text("templates/coaster.toml"), text("tests/findings/plates-bow.toml"));
await folder(program, text("templates/fish.svg"));
finish();
