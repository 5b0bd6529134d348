#!/usr/bin/env python3
"""Makes what is installed without Rust: a wheel for pip, and a package for Debian.

    python3 tests/installable.py                    builds the program with the profile `shipped` and makes both
    python3 tests/installable.py --program FILE     makes both of a program that is there already
    --out DIR                                       where they go (out/install)

Python's own library is enough; the Debian package needs dpkg-deb and readelf, and is left out,
and said so, where they are missing. The same program gives the same bytes.
"""

import argparse
import base64
import gzip
import hashlib
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import tomllib
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PROFILE = "shipped"
# The first moment that a zip archive can hold: no clock in what is made.
MOMENT = (1980, 1, 1, 0, 0, 0)
EPOCH = 315532800
SUMMARY = "From one parameter file to a workshop-ready package for a small injection mold"
# What every Linux system with the GNU C library has, and what Debian calls it.
LIBRARIES = {
    "libc.so.6": "libc6",
    "libm.so.6": "libc6",
    "libdl.so.2": "libc6",
    "libpthread.so.0": "libc6",
    "ld-linux-x86-64.so.2": "libc6",
    "ld-linux-aarch64.so.1": "libc6",
    "libgcc_s.so.1": "libgcc-s1",
}


def version():
    return tomllib.loads((ROOT / "Cargo.toml").read_text())["workspace"]["package"]["version"]


def built():
    """The program, built for others: optimised across crates, without symbols."""
    subprocess.run(["cargo", "build", "--locked", "--profile", PROFILE], cwd=ROOT, check=True)
    target = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    return target / PROFILE / ("platewright.exe" if os.name == "nt" else "platewright")


def stripped(program, folder):
    """The program without symbols, where the system has a tool for it."""
    copy = Path(folder) / program.name
    shutil.copyfile(program, copy)
    copy.chmod(0o755)
    if shutil.which("strip"):
        subprocess.run(["strip", "--strip-all", copy], check=False)
    return copy


def needed(program):
    """Shared libraries that the program asks for, and the newest version of the C library."""
    said = subprocess.run(["readelf", "-d", "-V", program], capture_output=True, text=True, check=True).stdout
    libraries = sorted(set(re.findall(r"\(NEEDED\).*\[([^\]]+)\]", said)))
    versions = {tuple(map(int, v.split("."))) for v in re.findall(r"GLIBC_(\d+\.\d+(?:\.\d+)?)", said)}
    newest = max(versions, default=(2, 17))
    return libraries, ".".join(map(str, newest[:2]))


def platform_tag(program):
    """Where the wheel runs: PEP 600 for Linux with the GNU C library, else what Python says."""
    plain = sysconfig.get_platform().replace("-", "_").replace(".", "_")
    if plain.startswith("linux_") and shutil.which("readelf"):
        libraries, newest = needed(program)
        if all(name in LIBRARIES for name in libraries):
            return f"manylinux_{newest.replace('.', '_')}_{plain.removeprefix('linux_')}"
    return plain


def wheel(program, out):
    """A wheel that holds the program alone: `pip install` puts it on the path."""
    number = version()
    tag = f"py3-none-{platform_tag(program)}"
    inside = f"platewright-{number}.dist-info"
    readme = (ROOT / "README.md").read_text()
    files = {
        f"platewright-{number}.data/scripts/{program.name}": program.read_bytes(),
        f"{inside}/METADATA": (
            f"Metadata-Version: 2.4\nName: platewright\nVersion: {number}\nSummary: {SUMMARY}\n"
            f"License-Expression: MIT\nLicense-File: LICENSE\nRequires-Python: >=3.8\n"
            f"Description-Content-Type: text/markdown\n\n{readme}"
        ).encode(),
        f"{inside}/WHEEL": f"Wheel-Version: 1.0\nGenerator: platewright\nRoot-Is-Purelib: false\nTag: {tag}\n".encode(),
        f"{inside}/licenses/LICENSE": (ROOT / "LICENSE").read_bytes(),
    }
    lines = []
    for name, content in files.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()
        lines.append(f"{name},sha256={digest},{len(content)}")
    record = f"{inside}/RECORD"
    files[record] = ("\n".join(lines) + f"\n{record},,\n").encode()
    path = out / f"platewright-{number}-{tag}.whl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, MOMENT)
            entry.compress_type = zipfile.ZIP_DEFLATED
            mode = 0o755 if "/scripts/" in name else 0o644
            entry.external_attr = (0o100000 | mode) << 16
            archive.writestr(entry, content)
    return path


def said_by(program, *words):
    return subprocess.run([program, *words], capture_output=True, check=True).stdout


def debian(program, out):
    """A Debian package; None where its tools are missing."""
    if not (shutil.which("dpkg-deb") and shutil.which("readelf")):
        return None
    libraries, newest = needed(program)
    unknown = [name for name in libraries if name not in LIBRARIES]
    if unknown:
        sys.exit(f"the program asks for {', '.join(unknown)}, which no package is declared for")
    architecture = subprocess.run(["dpkg", "--print-architecture"], capture_output=True, text=True, check=True).stdout.strip()
    depends = sorted({LIBRARIES[name] for name in libraries})
    depends = [f"libc6 (>= {newest})" if name == "libc6" else name for name in depends]
    number = version()
    files = {
        "usr/bin/platewright": (program.read_bytes(), 0o755),
        "usr/share/man/man1/platewright.1.gz": (gzip.compress(said_by(program, "man"), 9, mtime=0), 0o644),
        "usr/share/bash-completion/completions/platewright": (said_by(program, "completions", "bash"), 0o644),
        "usr/share/zsh/vendor-completions/_platewright": (said_by(program, "completions", "zsh"), 0o644),
        "usr/share/fish/vendor_completions.d/platewright.fish": (said_by(program, "completions", "fish"), 0o644),
        "usr/share/doc/platewright/copyright": (
            b"Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/\n"
            b"Upstream-Name: platewright\n\nFiles: *\nCopyright: 2026 The Platewright contributors\nLicense: Expat\n"
            + b"".join(b" " + (line or b".") + b"\n" for line in (ROOT / "LICENSE").read_bytes().splitlines()[4:]),
            0o644,
        ),
        "usr/share/doc/platewright/README.md.gz": (gzip.compress((ROOT / "README.md").read_bytes(), 9, mtime=0), 0o644),
    }
    size = sum(len(content) for content, _ in files.values()) // 1024 + 1
    control = (
        f"Package: platewright\nVersion: {number}\nArchitecture: {architecture}\n"
        f"Maintainer: The Platewright contributors <platewright@example.org>\nInstalled-Size: {size}\n"
        f"Depends: {', '.join(depends)}\nSection: science\nPriority: optional\nDescription: {SUMMARY}\n"
        " One parameter file gives a two-plate mold for a hand-lever injection machine,\n"
        " a nozzle adaptor plate or a turned adaptor: solids, cut files, drawings,\n"
        " machining sheets, and a computation whether it fills, holds and lets go.\n"
    )
    path = out / f"platewright_{number}_{architecture}.deb"
    with tempfile.TemporaryDirectory() as work:
        tree = Path(work) / "tree"
        sums = []
        for name, (content, mode) in files.items():
            place = tree / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
            place.chmod(mode)
            sums.append(f"{hashlib.md5(content, usedforsecurity=False).hexdigest()}  {name}\n")
        (tree / "DEBIAN").mkdir()
        (tree / "DEBIAN/control").write_text(control)
        (tree / "DEBIAN/md5sums").write_text("".join(sums))
        for place in tree.rglob("*"):
            if place.is_dir():
                place.chmod(0o755)
        os.chmod(tree, 0o755)
        subprocess.run(
            ["dpkg-deb", "--root-owner-group", "-Zxz", "-z3", "--build", tree, path],
            env={**os.environ, "SOURCE_DATE_EPOCH": str(EPOCH)}, check=True, stdout=subprocess.DEVNULL,
        )
    return path


def make(program, out):
    """Both; what was made."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        lean = stripped(Path(program), folder)
        return wheel(lean, out), debian(lean, out)


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--program", type=Path)
    ask.add_argument("--out", type=Path, default=ROOT / "out/install")
    given = ask.parse_args()
    made = make(given.program or built(), given.out)
    for path in made:
        print(path if path else "no Debian package: dpkg-deb or readelf is missing")


if __name__ == "__main__":
    main()
