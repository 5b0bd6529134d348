"""The machining sheet makes the part: motions.json carried out by other libraries (removal.py)
against the STL files, for every starter file and random designs.

Source of truth: the solids. Limits: metal removed no deeper than 0.02 mm inside the solid, left no
farther than 0.02 mm outside it, both as the shortest distance to the surface (0.05 mm where the
sheet itself says that steps or corners stay: beside them; cuts into the walls of a mesh file
0.1 mm, what stays on them is a finding), and the volume of all hollows within
0.5 % and what chords take off a round wall (an arc of sag s: 2/3 s on the average). That the check notices is tried by spoiling sheets.
"""
import concurrent.futures
import copy
import json
import os
import pathlib
import re
import subprocess
import tempfile

import pytest
import removal
import trimesh
from make_designs import SHARES, parameter_file
from many_designs import without_fill
from packages import PROGRAM, TEMPLATES
from random_kinds import Kinds

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)

NEAR = 0.02
# Beside what the sheet says is left: its edges are those of sections, a step above or below.
BESIDE_NAMED = 0.05
# Walls of a mesh file are followed in levels.
FREE_SHAPE = 0.1
VOLUME = 0.005
# Below this the hollows of a plate are no measure, mm³.
SMALL = 200.0
RANDOM = 500 if os.environ.get("PLATEWRIGHT_NIGHTLY") == "1" else 40
JOBS = os.cpu_count() or 1


def with_motions(text):
    """Motions written, chords short, bores plain, the fill off: it has nothing to do with the sheet."""
    text = re.sub(r"(?m)^(chord_tolerance|thread_form) = .*\n", "", without_fill(text))
    return text.replace("[output]\n", "[output]\nmotions = true\n", 1)


def designs():
    for file in sorted(TEMPLATES.glob("*.toml")):
        beside = {p.name: p.read_bytes() for p in TEMPLATES.iterdir() if p.suffix != ".toml"}
        yield file.stem, file.read_text(encoding="utf-8"), beside
    kinds = [*SHARES]
    for seed in range(RANDOM):
        name = f"removal-{seed:03}"
        if seed % 3 == 2:
            kind = kinds[seed // 3 % len(kinds)]
            text, beside = getattr(Kinds(f"removal {kind} of {seed}"), kind)(name)
        else:
            text, beside = parameter_file(88_000 + seed, name), {}
        yield name, text, beside


def made(folder, name, text, beside):
    """The package's folder; None for a design that is refused or not released."""
    for other, data in beside.items():
        (folder / other).write_bytes(data)
    file = folder / f"{name}.toml"
    file.write_text(with_motions(text), encoding="utf-8")
    done = subprocess.run(
        [pathlib.Path(PROGRAM).resolve(), "make", file, "--out", folder / "out", "--quiet"],
        stdin=subprocess.DEVNULL, capture_output=True, check=False)
    assert done.returncode in (0, 1, 2), done.stderr.decode("utf-8", "replace")[-800:]
    if done.returncode == 2:
        return None
    # Of a series its first member.
    return min((folder / "out").rglob("design.json")).parent


def free_shape(package, plate):
    """Whether triangles of a mesh file are walls of a plate: its levels leave metal, as is said."""
    design = json.loads((package / "design.json").read_text(encoding="utf-8"))
    features = next(p["features"] for p in design["plates"] if p["name"] == plate)
    return any(b[1]["form"] == "mesh" for f in features for b in f.get("bodies", []))


def limit(plate, chord):
    """How far metal may be cut or left, mm."""
    named = any(o["leaves"] for o in plate["operations"])
    return max(BESIDE_NAMED if named else NEAR, chord + 0.005)


def judged(package):
    """What is wrong with the sheets of a package."""
    design = json.loads((package / "design.json").read_text(encoding="utf-8"))
    if any(f["code"] == "sheet-unproved" for f in design["findings"]):
        return [], 0
    wrong, count = [], 0
    for plate in removal.plates(package):
        name = plate["name"]
        if any(f["code"] == "solid-in-pieces" and f["at"] == name for f in design["findings"]):
            continue
        mesh = trimesh.load(package / f"{name}.stl")
        named = any(o["leaves"] for o in plate["operations"])
        got = removal.compared(plate, mesh, NEAR)
        count += 1
        said = f"{package.name} {name}: "
        chord = design["chord_tolerance_mm"]
        free = free_shape(package, name)
        most = limit(plate, chord)
        if got.gouge > (FREE_SHAPE if free else most):
            wrong.append(f"{said}cut {got.gouge:.3f} mm into the solid at {got.gouge_at}")
        if free:
            continue
        if got.rest > most:
            wrong.append(f"{said}{got.rest:.3f} mm stay outside the solid at {got.rest_at}")
        off = abs(got.removed - got.hollow) - 2 / 3 * chord * got.walls
        if got.hollow > SMALL and off > VOLUME * got.hollow and not named:
            wrong.append(f"{said}{got.removed:.1f} mm³ removed, the solid lacks {got.hollow:.1f}")
    return wrong, count


def one(design):
    name, text, beside = design
    with tempfile.TemporaryDirectory() as folder:
        package = made(pathlib.Path(folder), name, text, beside)
        return ([], 0) if package is None else judged(package)


def test_every_sheet_makes_its_plates():
    with concurrent.futures.ProcessPoolExecutor(JOBS) as pool:
        results = list(pool.map(one, designs()))
    wrong = [w for r, _ in results for w in r]
    assert not wrong, "\n".join(wrong)
    assert sum(n for _, n in results) > 12 + RANDOM // 2


def spoilt(plate, k, how):
    bad = copy.deepcopy(plate)
    o = bad["operations"][k]
    if how == "dropped":
        del bad["operations"][k]
        return bad
    for m in o["motions"]:
        if how == "shifted":
            for key in ("at", "path", "centres", "keep"):
                if key in m:
                    m[key] = moved(m[key])
        elif "radius" in m:
            m["radius"] += 0.25
        elif m["motion"] == "axis":
            m["shape"] = [[r + 0.25 if r > 0 else r, d] for r, d in m["shape"]]
    return bad


def moved(v):
    if isinstance(v[0], list):
        return [moved(x) for x in v]
    return [v[0] + 0.2, v[1] + 0.25]


@pytest.mark.parametrize("how", ["dropped", "shifted", "larger"])
def test_spoilt_sheets_are_noticed(how, tmp_path):
    text = (TEMPLATES / "tag.toml").read_text(encoding="utf-8")
    package = made(tmp_path, "tag", text, {})
    seen = tried = 0
    for plate in removal.plates(package):
        mesh = trimesh.load(package / f"{plate['name']}.stl")
        for k, o in enumerate(plate["operations"]):
            # What a later tool takes too, or a state, tells nothing of its own metal.
            if not o["motions"] or o["kind"] in ("spot", "drill pilot", "drill", "mill rough", "prepare stock"):
                continue
            # Facing goes beyond the plate all around.
            if o["kind"] == "face" and how != "dropped":
                continue
            bad = spoilt(plate, k, how)
            if how == "larger" and bad == plate:
                continue
            got = removal.compared(bad, mesh, NEAR)
            tried += 1
            worst = max(got.gouge, got.rest)
            # A vent is no deeper than that.
            assert worst > limit(plate, 0.01) or o["kind"] == "scratch vents", \
                f"{how} {o['number']} {o['what']}: {worst}"
            seen += 1
    assert seen == tried > 3
