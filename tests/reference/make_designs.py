"""Parameter files of every kind, and the packages the program makes of them.

    make_designs.py PROGRAM FOLDER [--count 60] [--seed 1] [--jobs 2]
                    [--turned N] [--mesh N] [--sheets N] [--drawn N] [--random-only]

Beside the random ones and the templates: the files of cases/, each a design that once
went wrong and is held since.

Writes FOLDER/parameters/KIND-NNN.toml and what they name (same seed, same files; KIND is
random: plate parts and adaptors, or one of random_kinds), runs `PROGRAM make` on each and
on every template, and leaves FOLDER/packages/NAME/ and FOLDER/runs.json: one entry per
file with exit code (of `check` too for templates and cases), findings' or diagnostics' codes and
what was said. Judges nothing: see
test_runs.py.
"""
import argparse
import concurrent.futures
import json
import pathlib
import subprocess
import time

from random_designs import Maker
from random_kinds import Kinds
from random_machines import machine

# How many of a kind: one for so many of `--count`.
SHARES = {"turned": 20, "mesh": 20, "sheets": 30, "drawn": 30, "reducer": 20, "patterned": 20, "stroked": 30}


def parameter_file(seed, name):
    maker = Maker(seed)
    return maker.adaptor(name) if maker.chance(0.18) else maker.mold(name)


def checked(program, file, out):
    """How `check` ends on it."""
    done = subprocess.run(
        [program, "check", "--fast", file, "--out", out, "--json"],
        capture_output=True, stdin=subprocess.DEVNULL, timeout=300, check=False,
    )
    return done.returncode


def run(program, file, out, check):
    start = time.monotonic()
    try:
        done = subprocess.run(
            [program, "make", file, "--out", out, "--json"],
            capture_output=True, stdin=subprocess.DEVNULL, timeout=300, check=False,
        )
        code, said, err = done.returncode, done.stdout, done.stderr
    except subprocess.TimeoutExpired:
        code, said, err = "timeout", b"", b""
    try:
        answer = json.loads(said)
    except ValueError:
        answer = None
    return {
        "file": str(file), "code": code, "answer": answer,
        "stderr": err.decode("utf-8", "replace")[-2000:],
        "seconds": round(time.monotonic() - start, 3),
        # Random designs are held to it by many_designs.
        "checked": checked(program, file, out) if check else None,
    }


def main():
    args = argparse.ArgumentParser()
    args.add_argument("program", type=pathlib.Path)
    args.add_argument("folder", type=pathlib.Path)
    args.add_argument("--count", type=int, default=60)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--jobs", type=int, default=2)
    for kind, share in SHARES.items():
        args.add_argument(f"--{kind}", type=int, help=f"else one for {share} of COUNT")
    args.add_argument("--random-only", action="store_true", help="no templates, no cases")
    args = args.parse_args()
    parameters = args.folder / "parameters"
    parameters.mkdir(parents=True, exist_ok=True)
    here = pathlib.Path(__file__).parent
    files, held = [], set()
    if not args.random_only:
        files += sorted((here.parents[1] / "templates").glob("*.toml")) + sorted((here / "cases").glob("*.toml"))
        held = set(files)

    def keep(name, text, beside=()):
        for other in beside:
            (parameters / other).write_bytes(beside[other])
        file = parameters / f"{name}.toml"
        file.write_text(text, encoding="utf-8")
        files.append(file)

    for i in range(args.count):
        name = f"random-{i:03}"
        # One in six has its programs written and proved too.
        keep(name, parameter_file(1000 * args.seed + i, name) + (machine(name) if i % 6 == 5 else ""))
    for kind, share in SHARES.items():
        wanted = getattr(args, kind)
        for i in range(args.count // share if wanted is None else wanted):
            name = f"{kind}-{i:03}"
            text, *beside = getattr(Kinds(f"{name} of {args.seed}"), kind)(name)
            keep(name, text + (machine(name) if i % 3 == 2 else ""), *beside)
    out = args.folder / "packages"
    with concurrent.futures.ThreadPoolExecutor(args.jobs) as pool:
        runs = list(pool.map(lambda f: run(args.program.resolve(), f, out, f in held), files))
    (args.folder / "runs.json").write_text(json.dumps(runs, indent=1), encoding="utf-8")
    tally = {}
    for r in runs:
        tally[str(r["code"])] = tally.get(str(r["code"]), 0) + 1
    ends = ", ".join(f"{n} ended with {c}" for c, n in sorted(tally.items()))
    print(f"{len(runs)} parameter files: {ends}; {sum(r['seconds'] for r in runs):.1f} s in all")


if __name__ == "__main__":
    main()
