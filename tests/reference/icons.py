"""An open set of icons to try outlines on: fetched at run time, never kept.

Package `@tabler/icons` 3.52.0 of the npm registry, MIT licence, folders `icons/filled`
(filled shapes on a grid of 24) and `icons/outline` (lines two units wide). Brand marks, whose
names begin with "brand-", are left out. Where npm or the package cannot be had, `icons()` says
so and gives nothing.
"""
import pathlib
import shutil
import subprocess
import tarfile
import tempfile

PACKAGE = "@tabler/icons@3.52.0"
_kept = None


def icons(kind="filled"):
    """The SVG files of a folder, sorted by name, and why there are none."""
    global _kept
    if _kept is None:
        _kept = _fetch()
    folder, why = _kept
    if folder is None:
        return [], why
    found = sorted((folder / kind).glob("*.svg"))
    return [f for f in found if not f.name.startswith("brand-")], ""


def _fetch():
    if shutil.which("npm") is None:
        return None, "npm is not installed"
    folder = pathlib.Path(tempfile.mkdtemp(prefix="icons-"))
    done = subprocess.run(
        ["npm", "pack", PACKAGE, "--silent"], cwd=folder, capture_output=True, text=True, timeout=300
    )
    packed = list(folder.glob("*.tgz"))
    if done.returncode != 0 or not packed:
        return None, f"npm could not fetch {PACKAGE}"
    with tarfile.open(packed[0]) as tar:
        tar.extractall(folder, filter="data")
    assert "MIT" in (folder / "package/LICENSE").read_text(encoding="utf-8")
    return folder / "package/icons", ""
