"""Same input, same bytes: whatever the time, the folder, the language, the number of threads.

Source of truth: the first run's files (promise of the README). PLATEWRIGHT_PROGRAM runs
again with one and with three threads, in another folder and with another locale and
time zone; every file is compared byte for byte.
"""
import os
import pathlib
import subprocess

import pytest
from packages import CASES, OUT, PROGRAM, TEMPLATES, some

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)


def parameters(package):
    if package.folder.parent.name.endswith("-series"):
        # A member's file is its own.
        return package.folder / f"{package.name}.toml"
    for folder in (TEMPLATES, CASES, OUT / "parameters"):
        file = folder / f"{package.name}.toml"
        if file.exists():
            return file
    raise AssertionError(f"no parameter file for {package.name}")


NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
CHOSEN = some(10)


def tree(folder):
    return {
        str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def test_there_is_something_to_check():
    assert CHOSEN


# By day each of them once, by turns with one thread and with three (the first run had two or more).
WAYS = [
    pytest.param(p, threads, id=f"{p.name}-{threads}")
    for k, p in enumerate(CHOSEN)
    for threads in ((1, 3) if NIGHTLY else ((1, 3)[k % 2],))
]


@pytest.mark.parametrize(("package", "threads"), WAYS)
def test_same_bytes(package, threads, tmp_path):
    env = dict(os.environ, RAYON_NUM_THREADS=str(threads), TZ="Pacific/Auckland", LC_ALL="C")
    file = parameters(package)
    done = subprocess.run(
        [pathlib.Path(PROGRAM).resolve(), "make", file, "--out", "elsewhere", "--quiet"],
        cwd=tmp_path, env=env, stdin=subprocess.DEVNULL, capture_output=True, check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    first, again = tree(package.folder), tree(tmp_path / "elsewhere" / package.name)
    assert first.keys() == again.keys()
    different = [name for name, data in first.items() if again[name] != data]
    assert different == []
