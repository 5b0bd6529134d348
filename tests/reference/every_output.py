"""What is wrong with one package, every file of it: shorter than the suites, for thousands.

No file holds a number that is none; STL: a manifold with the volume that design.json says
(manifold3d); 3MF: strict reading gives no warning (lib3mf); DXF: the audit finds nothing
(ezdxf) and each feature of the plate is shown; STEP: one valid closed solid with that volume,
the assembly one of each (cadquery-ocp); machining sheet: each feature has its operation.
"""
import collections
import csv
import json
import re

import ezdxf
import lib3mf
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_SOLID

import shapes
from meshes import manifold

NO_NUMBER = re.compile(rb"(?<![A-Za-z])(nan|NaN|-?inf|Infinity)(?![A-Za-z])")
TEXTS = {".svg", ".json", ".dxf", ".step", ".csv"}
LIB3MF = lib3mf.get_wrapper()


def no_numbers(file):
    found = NO_NUMBER.search(file.read_bytes()) if file.suffix in TEXTS else None
    return [repr(found[0])] if found else []


def stl(file, volume, within=1e-4):
    try:
        found = manifold(file).volume()
    except AssertionError as e:
        return [str(e)]
    return [] if abs(found - volume) <= within * volume else [f"volume {found} mm³, not {volume} mm³"]


def strict_3mf(file):
    reader = LIB3MF.CreateModel().QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(file))
    return [reader.GetWarning(i)[1] for i in range(reader.GetWarningCount())]


def step(file, solids, volume, chord):
    """A STEP file of so many solids with this volume, but for a skin of a chord's thickness."""
    shape = shapes.read(file)
    count = sum(1 for _ in shapes.every(shape, TopAbs_SOLID))
    wrong = [] if count == solids else [f"{count} solids, not {solids}"]
    if not BRepCheck_Analyzer(shape).IsValid():
        wrong.append("not valid")
    has, skin = GProp_GProps(), GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, has, 1e-7)
    BRepGProp.SurfaceProperties_s(shape, skin)
    if abs(has.Mass() - volume) > chord * skin.Mass() + 1e-6 * volume:
        wrong.append(f"volume {has.Mass()} mm³, not {volume} mm³")
    return wrong


def dxf(file, tags=None):
    """A cut file; of one plate, with the tags of its features."""
    doc = ezdxf.readfile(file)
    audit = doc.audit()
    marked = (e for e in doc.modelspace() if e.has_xdata("PLATEWRIGHT"))
    shown = {e.get_xdata("PLATEWRIGHT")[0].value for e in marked} - {""}
    wrong = [e.message for e in audit.errors + audit.fixes]
    differ = set() if tags is None else shown ^ tags
    return wrong + [f"{t}: in the plate or in the file only" for t in sorted(differ)]


def sheet(file, design):
    """Each feature has its operations, each hole at least one of them for each of its steps."""
    made = collections.Counter()
    with file.open(encoding="utf-8", newline="") as f:
        for row in csv.DictReader(f, strict=True):
            if row["record"] == "operation":
                made.update((row["plate"], t) for t in row["tag"].split())
    wrong = []
    for plate in design["plates"]:
        names = (plate["name"], plate["title"])
        for f in plate["features"]:
            # One tool on the lathe turns all steps of an end.
            least = 1 if f["shape"] == "outside" else len(f.get("steps", [0]))
            if sum(made[n, f["tag"]] for n in names) < least:
                wrong.append(f"{plate['name']} {f['tag']}: an operation is missing")
    return wrong


def faults(package, given=()):
    """A list of what is wrong with the files in the folder of a package, but for those `given`
    by the user."""
    design = json.loads((package / "design.json").read_text(encoding="utf-8"))
    chord = design["chord_tolerance_mm"]
    volumes = {s["name"]: s["volume_mm3"] for s in design["solids"]}
    plates = {p["name"]: p for p in design["plates"]}
    decided = {d["key"] for d in design["decisions"]}
    left = [f["what"] for f in design["findings"] if f["code"] == "step-left-out"]
    pieces = {f["at"] for f in design["findings"] if f["code"] == "solid-in-pieces"}
    exact = {s for s in volumes if not any(w.startswith(f"no STEP file of {s}:") for w in left)} - pieces
    files = sorted(p for p in package.iterdir() if p.is_file() and p.name not in given)
    there = {f.name for f in files}
    made = {n for n, p in plates.items() if p["side"] != "pin"}
    want = {f"{s}.stl" for s in volumes if s not in pieces} | {f"{s}.step" for s in exact}
    want |= {f"{n}.{kind}" for n in made for kind in ("dxf", "svg")}
    wrong = [f"{name}: missing" for name in sorted(want - there)]
    for f in files:
        bad = no_numbers(f)
        if f.suffix == ".stl":
            # With a true thread the stated volume is that of the plain bore.
            form = f.stem in ("plate-a", "adaptor", "reducer") and "output.thread_form" in decided
            # On a turned adaptor two threads may take a twentieth, as in test_stl.
            ridges = 0.05 if f.stem == "reducer" else 0.02
            bad += stl(f, volumes[f.stem], ridges if form else 1e-4)
        elif f.suffix == ".3mf":
            bad += strict_3mf(f)
        elif f.suffix == ".step" and f.stem in volumes:
            bad += step(f, 1, volumes[f.stem], chord)
        elif f.suffix == ".step":
            bad += step(f, len(plates), sum(volumes[n] for n in plates), chord)
        elif f.suffix == ".dxf":
            plate = plates.get(f.stem)
            bad += dxf(f, plate and {x["tag"] for x in plate["features"]})
        elif f.name == "machining-sheet.csv":
            bad += sheet(f, design)
        wrong += [f"{f.name}: {b}" for b in bad]
    return wrong
