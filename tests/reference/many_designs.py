"""Thousands of random designs, one after the other, nothing kept but what went wrong.

    many_designs.py PROGRAM [--count 10000] [--first 0] [--seed 7] [--jobs 2] [--seconds S]

Beyond what the program proves of its own solids (a package is written only when they are
sound): it ends with 0, 1 or 2, and so does check; a refusal says where and what would be right;
with two numbers of threads the files are the same bytes; every file is read as every_output.py
says. Two designs in five are of another kind than plate parts and adaptors (random_kinds). One in
three has the fill left off, which takes most of the time; in the others it proves itself.
"""
import argparse
import concurrent.futures
import json
import os
import pathlib
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time

import every_output
from make_designs import SHARES, parameter_file
from random_kinds import Kinds
from random_machines import machine


def without_fill(text):
    """The same design with the fill off."""
    text = re.sub(r'(?m)^fill = .*\n', "", text)
    if re.search(r"(?m)^\[output\]$", text):
        return re.sub(r"(?m)^\[output\]$", '[output]\nfill = "off"', text)
    return text + '[output]\nfill = "off"\n'


def design(seed, name):
    """Text of the parameter file of a seed, and the files that it names."""
    kinds = [*SHARES]
    if seed % 5 in (1, 3):
        kind = kinds[(seed // 5 + seed % 5) % len(kinds)]
        text, beside = getattr(Kinds(f"{kind} of {seed}"), kind)(name)
    else:
        text, beside = parameter_file(seed, name), {}
    text = without_fill(text) if seed % 3 == 1 else text
    return text + (machine(name) if seed % 6 == 1 else ""), beside


def patience():
    """Seconds of the processor, which do not depend on what else the machine does."""
    resource.setrlimit(resource.RLIMIT_CPU, (300, 300))


def made(program, file, out, threads, command="make"):
    env = dict(os.environ, RAYON_NUM_THREADS=str(threads))
    return subprocess.run(
        [program, *command.split(), file, "--out", out, "--json"],
        capture_output=True, stdin=subprocess.DEVNULL, check=False, env=env, preexec_fn=patience,
    )


def faults(program, text, beside, name, folder):
    """What is wrong with one design, and how its run ended."""
    for other, data in beside.items():
        (folder / other).write_bytes(data)
    file = folder / f"{name}.toml"
    file.write_text(text, encoding="utf-8")
    first = made(program, file, folder / "one", 1)
    again = made(program, file, folder / "two", 2)
    code, wrong = first.returncode, []
    if code != again.returncode:
        wrong.append(f"ended with {code}, then with {again.returncode}")
    checked = made(program, file, folder / "checked", 2, "check --fast").returncode
    if checked != code:
        wrong.append(f"check ends with {checked}, make with {code}")
    if code not in (0, 1, 2):
        wrong.append(first.stderr.decode("utf-8", "replace")[-500:])
        return code, wrong
    if code == 2:
        said = json.loads(first.stdout)
        for d in said or [{}]:
            if not d.get("message") or not d.get("remedy"):
                wrong.append("refused without a word")
        return code, wrong
    package = folder / "one" / name
    files = {p.relative_to(package) for p in package.rglob("*") if p.is_file()}
    if files != {p.relative_to(folder / "two" / name) for p in (folder / "two" / name).rglob("*") if p.is_file()}:
        wrong.append("other files with two threads")
        return code, wrong
    for f in sorted(files):
        if (package / f).read_bytes() != (folder / "two" / name / f).read_bytes():
            wrong.append(f"{f}: other bytes with two threads")
    wrong += every_output.faults(package, beside)
    return code, wrong


def one(job):
    program, seed, keep = job
    name = f"design-{seed}"
    text, beside = design(seed, name)
    with tempfile.TemporaryDirectory() as folder:
        try:
            code, wrong = faults(program, text, beside, name, pathlib.Path(folder))
        except Exception as e:  # What cannot be read is a fault of the package.
            code, wrong = "unread", [repr(e)]
    if wrong:
        keep.mkdir(parents=True, exist_ok=True)
        (keep / f"{name}.toml").write_text(text, encoding="utf-8")
        for other, data in beside.items():
            (keep / other).write_bytes(data)
    return seed, code, wrong


def main():
    args = argparse.ArgumentParser()
    args.add_argument("program", type=pathlib.Path)
    args.add_argument("--count", type=int, default=10000)
    args.add_argument("--first", type=int, default=0)
    args.add_argument("--seed", type=int, default=7)
    args.add_argument("--jobs", type=int, default=2)
    args.add_argument("--seconds", type=float, default=float("inf"))
    args.add_argument("--keep", type=pathlib.Path, default=pathlib.Path("many-designs"))
    args = args.parse_args()
    program = shutil.copy(args.program, tempfile.mkdtemp())
    seeds = (100000 * args.seed + i for i in range(args.first, args.first + args.count))
    end = time.monotonic() + args.seconds
    tally, bad = {}, 0
    jobs = ((program, s, args.keep) for s in seeds if time.monotonic() < end)
    with concurrent.futures.ProcessPoolExecutor(args.jobs) as pool:
        for batch in iter(lambda: [j for _, j in zip(range(50), jobs)], []):
            for seed, code, wrong in pool.map(one, batch):
                tally[str(code)] = tally.get(str(code), 0) + 1
                for w in wrong:
                    bad += 1
                    print(f"design-{seed}: {w}", flush=True)
    ends = ", ".join(f"{n} ended with {c}" for c, n in sorted(tally.items()))
    print(f"{sum(tally.values())} designs: {ends}; {bad} faults")
    return bad > 0


if __name__ == "__main__":
    sys.exit(main())
