"""The program installed without Rust: the wheel by pip in a fresh environment, the Debian package's
files and declared libraries, at night in an empty root. Held to pip, dpkg and the loader."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import installable  # noqa: E402

NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY", "0") == "1"


@pytest.fixture(scope="session")
def program():
    # At night as it is shipped; by day the program that everything else is tried with.
    return installable.built() if NIGHTLY else Path(os.environ["PLATEWRIGHT_PROGRAM"])


@pytest.fixture(scope="session")
def made(program, tmp_path_factory):
    return installable.make(program, tmp_path_factory.mktemp("install"))


@pytest.fixture(scope="session")
def debian(made):
    if made[1] is None:
        pytest.skip("no dpkg-deb or readelf here")
    return made[1]


def environment(folder):
    """A path without cargo and rustc: the shell's own tools in the usual places, and the folder's."""
    usual = [p for p in ("/usr/bin", "/bin") if not any((Path(p) / t).exists() for t in ("cargo", "rustc"))]
    return {"PATH": os.pathsep.join([str(folder / "bin"), *usual]), "HOME": str(folder), "LANG": "C.UTF-8"}


def test_the_wheel_runs_where_there_is_no_rust(made, tmp_path):
    venv = tmp_path / "venv"
    done = subprocess.run([sys.executable, "-m", "venv", "--without-pip", venv], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    python = venv / "bin/python"
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", python, "install", "--no-index", "--no-deps", "--quiet", made[0]], check=True
    )
    surroundings = environment(venv)
    for tool in ("cargo", "rustc"):
        assert shutil.which(tool, path=surroundings["PATH"]) is None, tool

    def run(*words):
        return subprocess.run(["platewright", *words], env=surroundings, cwd=tmp_path, capture_output=True, text=True)

    assert run("--version").stdout.split() == ["platewright", installable.version()]
    assert run("new", "coaster", "my.toml").returncode == 0
    done = run("make", "my.toml", "--quiet")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out/coaster/plate-a.step").stat().st_size > 1000
    shown = subprocess.run(
        [sys.executable, "-m", "pip", "--python", python, "show", "--files", "platewright"], capture_output=True, text=True, check=True
    ).stdout
    assert "bin/platewright" in shown
    subprocess.run([sys.executable, "-m", "pip", "--python", python, "uninstall", "--yes", "--quiet", "platewright"], check=True)
    assert not (venv / "bin/platewright").exists()


def test_the_same_program_gives_the_same_bytes(program, made, tmp_path):
    again = installable.make(program, tmp_path)
    for first, second in zip(made, again):
        if first is not None:
            assert first.name == second.name and first.read_bytes() == second.read_bytes(), first.name


def fields(debian):
    said = subprocess.run(["dpkg-deb", "--field", debian], capture_output=True, text=True, check=True).stdout
    return dict(line.split(": ", 1) for line in said.splitlines() if ": " in line and not line.startswith(" "))


def unpacked(debian, folder):
    subprocess.run(["dpkg-deb", "--extract", debian, folder], check=True)
    return folder


def test_the_debian_package_holds_its_files_with_their_rights(debian, tmp_path):
    listed = subprocess.run(["dpkg-deb", "--contents", debian], capture_output=True, text=True, check=True).stdout
    rows = [line.split(None, 5) for line in listed.splitlines()]
    assert all(row[1] == "root/root" for row in rows)
    rights = {row[5].removeprefix("."): row[0] for row in rows}
    assert rights["/usr/bin/platewright"] == "-rwxr-xr-x"
    for name in ("/usr/share/man/man1/platewright.1.gz", "/usr/share/doc/platewright/copyright",
                 "/usr/share/bash-completion/completions/platewright"):
        assert rights[name] == "-rw-r--r--", name
    tree = unpacked(debian, tmp_path)
    manual = subprocess.run(["gzip", "-dc", tree / "usr/share/man/man1/platewright.1.gz"], capture_output=True, text=True, check=True)
    assert manual.stdout.lstrip().startswith((".ie", ".TH")) and "platewright" in manual.stdout
    program = tree / "usr/bin/platewright"
    said = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout
    assert said.split()[1] == fields(debian)["Version"] == installable.version()


def test_every_library_comes_with_a_package_that_is_declared(debian, tmp_path):
    declared = {d.split()[0] for d in fields(debian)["Depends"].split(", ")}
    program = unpacked(debian, tmp_path) / "usr/bin/platewright"
    # The loader itself says what it takes, and dpkg whose that is.
    said = subprocess.run(["ldd", program], capture_output=True, text=True, check=True).stdout
    paths = [line.split("=>")[-1].split("(")[0].strip() for line in said.splitlines()]
    paths = [p for p in paths if p.startswith("/")]
    assert paths
    for path in paths:
        for name in (path, os.path.realpath(path), path.removeprefix("/usr"), "/usr" + path):
            found = subprocess.run(["dpkg", "-S", name], capture_output=True, text=True)
            if found.returncode == 0:
                break
        assert found.returncode == 0, f"{path} is no package's"
        assert found.stdout.split(":")[0] in declared, found.stdout
    newest = installable.needed(program)[1]
    assert f"libc6 (>= {newest})" in fields(debian)["Depends"]


@pytest.mark.skipif(not NIGHTLY, reason="at night")
def test_it_runs_in_an_empty_root(debian, tmp_path):
    if os.geteuid() != 0:
        pytest.skip("an empty root needs the system's own rights")
    tree = unpacked(debian, tmp_path / "root")
    for package in [d.split()[0] for d in fields(debian)["Depends"].split(", ")]:
        listed = subprocess.run(["dpkg", "-L", package], capture_output=True, text=True, check=True).stdout
        for name in listed.splitlines():
            source = Path(name)
            if source.is_file() and (".so" in source.name):
                for place in {name, os.path.realpath(name)}:
                    goal = tree / place.lstrip("/")
                    goal.parent.mkdir(parents=True, exist_ok=True)
                    if not goal.exists():
                        shutil.copy2(name, goal)
    loader = Path("/lib64/ld-linux-x86-64.so.2")
    if loader.exists() and not (tree / "lib64" / loader.name).exists():
        (tree / "lib64").mkdir(exist_ok=True)
        shutil.copy2(os.path.realpath(loader), tree / "lib64" / loader.name)
    (tree / "tmp").mkdir(exist_ok=True)
    done = subprocess.run(["chroot", tree, "/usr/bin/platewright", "--out", "/tmp", "--quiet"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert (tree / "tmp/coaster/plate-a.stl").exists()
