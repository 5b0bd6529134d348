"""Turned adaptors with two threads, measured: the STEP in the reference kernel, the STL by trimesh.

Source of truth: diameters of the threads typed in here from public tables of ISO 228-1, ISO 7-1 and
ASME B1.20.1 (mm; taper threads at their small end, growing 1:16), tap drills of parallel threads
likewise. The kernel cuts the STEP with planes square to the axis and says which circles are there;
trimesh does so with the STL. Both volumes are compared with each other and with the sum of the
sections.
"""
import json
import math
import pathlib
import random
import subprocess

import numpy as np
import pytest
import shapes
import trimesh
from meshes import welded
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.BRepGProp import BRepGProp
from OCP.GeomAbs import GeomAbs_Circle
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_EDGE, TopAbs_SOLID
from OCP.TopoDS import TopoDS
from packages import PROGRAM

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)
PROGRAM = pathlib.Path(PROGRAM).resolve()

# The hole of the pair: crest of the external thread at its small end, taper, drill of the hole
# (None: reamed, it tapers).
ROWS = {
    "G 3/8": (16.662, 0.0, 15.25),
    "G 1/2": (20.955, 0.0, 19.0),
    "G 3/4": (26.441, 0.0, 24.5),
    "Rp 1/2": (20.442, 1 / 16, 18.75),
    "Rc 1/2": (20.442, 1 / 16, None),
    "Rc 3/4": (25.847, 1 / 16, None),
    "1/2 NPT": ((0.75843 + 0.8 / 14) * 25.4, 1 / 16, None),
    "3/4 NPT": ((0.96768 + 0.8 / 14) * 25.4, 1 / 16, None),
}
CHORD = 0.01
RANDOM = random.Random(2104)
CASES = [
    (RANDOM.choice([*ROWS]), RANDOM.choice([*ROWS]), i % 2 == 1, RANDOM.choice(["male", "female"]),
     RANDOM.choice(["hexagon", "flats"]))
    for i in range(6)
]


@pytest.fixture(scope="module", params=CASES, ids=str)
def made(request, tmp_path_factory):
    inlet, outlet, male, end, grip = request.param
    folder = tmp_path_factory.mktemp("reducer")
    file = folder / "gauge.toml"
    file.write_text(
        f'[job]\nkind = "reducer"\n[nozzle]\nthread = "{inlet}"\norifice = 4\n[reducer]\n'
        f'grip = "{grip}"\ninlet = "{"male" if male else "female"}"\n'
        f'outlet = {{ end = "{end}", thread = "{outlet}" }}\n[shop]\nmachines = ["lathe", "mill"]\n'
        f"[output]\nchord_tolerance = {CHORD}\n", encoding="utf-8")
    run = subprocess.run([PROGRAM, "make", file, "--out", folder / "out"], capture_output=True, text=True)
    assert run.returncode in (0, 1), run.stderr
    out = next((folder / "out").rglob("reducer.stl")).parent
    design = json.loads((out / "design.json").read_text(encoding="utf-8"))
    return request.param, design, shapes.read(out / "reducer.step"), welded(out / "reducer.stl")


def circles(step, z):
    """Diameters of the circles about the axis in which a plane cuts a solid."""
    cut = BRepAlgoAPI_Section(step, gp_Pln(gp_Pnt(0, 0, z), gp_Dir(0, 0, 1)))
    cut.Build()
    out = set()
    for edge in shapes.every(cut.Shape(), TopAbs_EDGE):
        curve = BRepAdaptor_Curve(TopoDS.Edge(edge))
        if curve.GetType() == GeomAbs_Circle:
            at = curve.Circle().Location()
            assert math.hypot(at.X(), at.Y()) < 1e-6
            out.add(round(2 * curve.Circle().Radius(), 5))
    return sorted(out)


def rings(mesh, z):
    """The same of a mesh: least and largest distance from the axis of each loop."""
    path = mesh.section([0, 0, 1], [0, 0, z])
    return sorted((2 * float(np.hypot(d[:, 0], d[:, 1]).max()) for d in path.discrete))


def volume(step):
    has = GProp_GProps()
    BRepGProp.VolumeProperties_s(step, has, 1e-7)
    return has.Mass()


def test_step_and_stl_are_one_solid_of_one_volume(made):
    _, design, step, mesh = made
    assert sum(1 for _ in shapes.every(step, TopAbs_SOLID)) == 1
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(volume(step), rel=8e-4)
    stated = next(s for s in design["solids"] if s["name"] == "reducer")
    assert stated["volume_mm3"] == pytest.approx(volume(step), rel=8e-4)


def ends(design):
    """Of each turned end with a thread: its face's height, the way in, the thread's own steps."""
    plate = design["plates"][0]
    for f in plate["features"]:
        if f["shape"] == "outside":
            high = f["face"] == "high"
            yield high, (plate["z_high"], -1) if high else (plate["z_low"], 1), f["steps"]


def test_crests_of_male_ends_are_those_of_the_tables(made):
    (inlet, outlet, male, end, _), design, step, mesh = made
    seen = 0
    for high, (face, inward), steps in ends(design):
        thread = inlet if high else outlet
        if not (male if high else end == "male"):
            continue
        crest, taper, _ = ROWS[thread]
        depth = begin = 0.0
        for i, s in enumerate(steps):
            if s["step"] == "thread":
                # The small end lies where the chamfer before it begins.
                begin = depth - steps[i - 1]["length"]
                middle = depth + s["length"] / 2
                want = crest + taper * (middle - begin)
                z = face + inward * middle
                assert circles(step, z)[-1] == pytest.approx(want, abs=0.004), thread
                assert rings(mesh, z)[-1] == pytest.approx(want, abs=2 * CHORD + 0.004), thread
                seen += 1
            depth += s["length"]
    assert seen == male + (end == "male")


def test_holes_of_female_ends_are_the_tables_drills(made):
    (inlet, outlet, male, end, _), design, step, mesh = made
    plate = design["plates"][0]
    for thread, here, z in [
        (inlet, not male, plate["z_high"] - 6.0), (outlet, end == "female", plate["z_low"] + 6.0),
    ]:
        drill = ROWS[thread][2]
        if here and drill:
            assert circles(step, z)[0] == pytest.approx(drill, abs=0.001), thread
            assert rings(mesh, z)[0] == pytest.approx(drill, abs=2 * CHORD), thread


def test_sections_add_up_to_the_volume(made):
    _, design, step, mesh = made
    plate = design["plates"][0]
    n = 250
    high = (plate["z_high"] - plate["z_low"]) / n
    area = sum(
        mesh.section([0, 0, 1], [0, 0, plate["z_low"] + (k + 0.5) * high]).to_2D()[0].area for k in range(n)
    )
    assert area * high == pytest.approx(volume(step), rel=3e-3)
