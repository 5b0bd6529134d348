"""Where the packages are: read once, shared by all suites.

PLATEWRIGHT_OUT names a folder written by make_designs.py. No checks here.
"""
import json
import os
import pathlib
import tomllib

import pytest

OUT = os.environ.get("PLATEWRIGHT_OUT")
if not OUT:
    pytest.skip("PLATEWRIGHT_OUT is not set", allow_module_level=True)
OUT = pathlib.Path(OUT)
PROGRAM = os.environ.get("PLATEWRIGHT_PROGRAM")
TEMPLATES = pathlib.Path(__file__).parents[2] / "templates"
# Parameter files that once went wrong.
CASES = pathlib.Path(__file__).parent / "cases"


class Package:
    """One folder that the program made."""

    def __init__(self, folder):
        self.folder = folder
        self.name = folder.name
        self.design = json.loads((folder / "design.json").read_text(encoding="utf-8"))
        self.plates = self.design["plates"]
        # A bought pin has a solid and a place, but no drawing and no cut file.
        self.made = [p for p in self.plates if p["side"] != "pin"]
        self.facts = {s["name"]: s for s in self.design["solids"]}

    def file(self, name):
        """The one file of this name."""
        found = sorted(self.folder.rglob(name))
        assert len(found) == 1, f"{self.name}: {len(found)} files called {name}"
        return found[0]

    def exact(self, solid):
        """Whether a solid has a STEP file: a finding names those that have none."""
        said = [f["what"] for f in self.design["findings"] if f["code"] == "step-left-out"]
        return self.whole(solid) and not any(what.startswith(f"no STEP file of {solid}:") for what in said)

    def whole(self, solid):
        """Whether a solid is one body: only then it has an STL file."""
        return all(f["at"] != solid for f in self.design["findings"] if f["code"] == "solid-in-pieces")

    def threaded(self, solid):
        """Whether a plate carries the true thread of the nozzle in STL and 3MF: its facts are those
        of the plain bore (test_thread.py)."""
        form = any(d["key"] == "output.thread_form" for d in self.design["decisions"])
        return form and solid in ("plate-a", "adaptor", "reducer")

    def facetted(self, solid):
        """Whether triangles of an imported mesh are faces of a solid."""
        plate = next((p for p in self.plates if p["name"] == solid), None)
        if plate:
            forms = [b[1] for f in plate["features"] for b in f.get("bodies", [])]
        else:
            part = self.design["part"]
            forms = [b["form"] for b in part["bodies"]] if part else []
        return any(f["form"] == "mesh" for f in forms)

    @property
    def inches(self):
        """Whether its papers are in inches: then test_units.py holds it to the same in millimetres."""
        files = [tomllib.loads(p.read_text(encoding="utf-8")) for p in self.folder.glob("*.toml")]
        return any(f.get("output", {}).get("units") == "inch" for f in files)

    @property
    def chord(self):
        """Largest distance of a mesh from the true surface, mm."""
        return self.design["chord_tolerance_mm"]


# Of a series the first member: the others are the same with other letters.
FOLDERS = [p.parent for p in sorted(OUT.rglob("design.json"))]
EVERY = [
    Package(p) for p in FOLDERS
    if not p.parent.name.endswith("-series") or p == min(q for q in FOLDERS if q.parent == p.parent)
]
PACKAGES = [p for p in EVERY if not p.inches]
# Those that make_designs.py drew by lot, of every kind.
RANDOM = [p for p in PACKAGES if (OUT / "parameters" / f"{p.name}.toml").exists()]
MOLDS = [p for p in PACKAGES if p.design["part"]]
# Those with a shot: its parts and feed are one body.
WHOLE = [p for p in MOLDS if p.design["whole_shot"] and all(p.whole(q["name"]) for q in p.plates)]


def drawn(most):
    """Up to so many of the random ones, of every kind."""
    return RANDOM[:: max(1, -(-len(RANDOM) // most))]


def few(most):
    """The starter files, and up to `most` of the random ones, of every kind: for slow checks."""
    return [p for p in PACKAGES if (TEMPLATES / f"{p.name}.toml").exists()] + drawn(most)


def some(most):
    """All but the random ones, and up to `most` of these, of every kind."""
    return [p for p in PACKAGES if p not in RANDOM] + drawn(most)


def each(packages=None):
    """Parametrizes a test by package."""
    chosen = PACKAGES if packages is None else packages
    return pytest.mark.parametrize("package", [pytest.param(p, id=p.name) for p in chosen])


def each_plate():
    """Parametrizes a test by package and plate that is made in the workshop."""
    return pytest.mark.parametrize(
        "package, plate",
        [pytest.param(p, q, id=f"{p.name}/{q['name']}") for p in PACKAGES for q in p.made],
    )


def each_solid(exact=False):
    """Parametrizes a test by package and name of a solid; `exact`: those with a STEP file."""
    return pytest.mark.parametrize(
        "package, solid",
        [
            pytest.param(p, s, id=f"{p.name}/{s}")
            for p in PACKAGES
            for s in p.facts
            if (p.exact(s) if exact else p.whole(s))
        ],
    )
