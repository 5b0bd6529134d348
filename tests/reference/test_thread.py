"""The true thread in STL and 3MF: cut with planes, and measured against the tables' rows.

Source of truth: trimesh cuts the written file with planes through the axis; diameters,
pitch, taper and hand are read from the cut. The rows: ISO 228-1 and ISO 7-1 (major,
minor, 11 or 14 threads per inch), ASME B1.20.1 (E1, 0.8 P high, 1:16), typed in here
from public dimension tables of those standards, in mm. The basic crest is cut off where
the drilled bore is wider; ISO 228-1 allows a minor diameter of up to 19.172 for G 1/2.
"""
import json
import pathlib
import subprocess

import lib3mf
import numpy as np
import pytest
import trimesh
from meshes import arrays, body, manifold, objects, welded
from packages import PROGRAM

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)
PROGRAM = pathlib.Path(PROGRAM).resolve()

# Thread: major and minor diameter at the gauge plane, its depth, threads per inch, taper.
ROWS = {
    "G 1/2": (20.955, 18.631, 0.0, 14, 0.0),
    "G 1": (33.249, 30.291, 0.0, 11, 0.0),
    "Rp 1/2": (20.955, 18.631, 0.907, 14, 0.0),
    "Rc 1/2": (20.955, 18.631, 0.907, 14, 1 / 16),
    "1/2 NPT": (19.772 + 1.451, 19.772 - 1.451, 0.0, 14, 1 / 16),
    "3/8 NPT": (15.926 + 1.129, 15.926 - 1.129, 0.0, 18, 1 / 16),
}
CHORD = 0.004
THICK = 30.0


def job(thread, form, bore):
    return f"""[job]
name = "gauge"
kind = "adaptor"
[machine]
barrel_bore = 26
stroke = 120
hand_force = 250
lever_ratio = 10
[nozzle]
thread = "{thread}"
[adaptor]
thickness = {THICK}
pattern = {{ pattern = "circle", count = 4, diameter = 76 }}
{bore}
[output]
chord_tolerance = {CHORD}
thread_form = {str(form).lower()}
"""


def make(folder, thread, form=True, bore=""):
    """The package's folder."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "gauge.toml"
    file.write_text(job(thread, form, bore), encoding="utf-8")
    out = folder / "out"
    run = subprocess.run([PROGRAM, "make", file, "--out", out], capture_output=True, text=True)
    assert run.returncode in (0, 1), run.stderr
    return next(out.rglob("adaptor.stl")).parent


@pytest.fixture(scope="module", params=[(t, b) for t in ROWS for b in ("", "bore = 6")
                                       if "1/2" in t or b],
                ids=lambda p: f"{p[0]} {'blind' if p[1] else 'through'}")
def made(request, tmp_path_factory):
    thread, bore = request.param
    folder = make(tmp_path_factory.mktemp("thread"), thread, True, bore)
    design = json.loads((folder / "design.json").read_text(encoding="utf-8"))
    hole = next(f for f in design["plates"][0]["features"] if f["purpose"] == "nozzle")
    drill = max(s["dia"] for s in hole["steps"] if s["step"] == "drill")
    tap = next(s for s in hole["steps"] if s["step"] == "tap")["depth"]
    length = THICK if tap == "through" else tap["blind"]
    return thread, folder, welded(folder / "adaptor.stl"), drill, length, design


def from_3mf(path):
    """Vertices and triangles of the one body in a 3MF, read by lib3mf."""
    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(path))
    return arrays(next(objects(model)))


def wall(mesh, angle):
    """Radius over depth of the bore's wall in the half plane at an angle: fine samples."""
    c, s = np.cos(angle), np.sin(angle)
    lines = trimesh.intersections.mesh_plane(mesh, [-s, c, 0.0], [0, 0, 0])
    r = lines[:, :, 0] * c + lines[:, :, 1] * s
    depth = THICK - lines[:, :, 2]
    depths = np.arange(0.005, THICK, 0.01) + 1.234e-5
    best = np.full(len(depths), np.inf)
    for (r0, r1), (d0, d1) in zip(r, depth):
        if min(r0, r1) < 0.5 or abs(d1 - d0) < 1e-9:
            continue
        at = (depths >= min(d0, d1)) & (depths <= max(d0, d1))
        best[at] = np.minimum(best[at], r0 + (r1 - r0) * (depths[at] - d0) / (d1 - d0))
    return depths, best


def tops(depths, radius, pitch, sign):
    """Places and heights of the roots (+1) or crests (−1): the middle of each stretch."""
    value = sign * radius
    found = []
    k = 0
    while k < len(value):
        near = np.abs(depths - depths[k]) < pitch * 0.4
        if value[k] >= value[near].max() - 1e-9:
            flat = near & (value > value[k] - 0.002)
            found.append((depths[flat].mean(), radius[k]))
            k += int(0.6 * pitch / 0.01)
        else:
            k += 1
    return np.array(found)


def test_closed_and_a_manifold(made):
    _, folder, mesh, *_ = made
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
    assert mesh.body_count == 1
    assert manifold(folder / "adaptor.stl").volume() == pytest.approx(mesh.volume, rel=1e-5)


def test_diameters_pitch_and_taper_are_those_of_the_row(made):
    thread, _, mesh, drill, length, design = made
    major, minor, gauge, tpi, taper = ROWS[thread]
    pitch = 25.4 / tpi
    depths, radius = wall(mesh, 0.7)
    full = (depths > 1.5 * pitch) & (depths < length - 0.5 * pitch)
    depths, radius = depths[full], radius[full]
    roots = tops(depths, radius, pitch, 1)
    roots = roots[(roots[:, 0] > depths[0] + 0.3 * pitch) & (roots[:, 0] < depths[-1] - 0.3 * pitch)]
    assert len(roots) >= 3
    # Rows are rounded to 0.001; a taper's root is measured up to 0.02 P beside its middle.
    want = major - (roots[:, 0] - gauge) * taper
    assert 2 * roots[:, 1] == pytest.approx(want, abs=2 * CHORD + 0.005)
    # A round root's middle is found to a sample or two.
    assert np.diff(roots[:, 0]).mean() == pytest.approx(pitch, abs=0.012)
    if taper:
        slope = np.polyfit(roots[:, 0], 2 * roots[:, 1], 1)[0]
        assert slope == pytest.approx(-taper, abs=0.004)
    # Crests: the basic minor diameter, or the drilled or reamed bore where that is wider.
    hole = next(f for f in design["plates"][0]["features"] if f["purpose"] == "nozzle")
    crests = tops(depths, radius, pitch, -1)
    crests = crests[(crests[:, 0] > depths[0] + 0.3 * pitch) & (crests[:, 0] < depths[-1] - 0.3 * pitch)]
    for at, half in crests:
        reamed = [s["dia_face"] + (s["dia_end"] - s["dia_face"]) * at / s["depth"]
                  for s in hole["steps"] if s["step"] == "taper" and at <= s["depth"]]
        basic = minor - (at - gauge) * taper
        # On a taper the least diameter stands at the inner end of a crest of up to P/4.
        slack = 2 * CHORD + 0.003 + pitch / 8 * taper
        assert 2 * half == pytest.approx(max([drill, basic] + reamed), abs=slack)


def test_flanks_have_the_angle_of_the_form(made):
    thread, _, mesh, drill, length, _ = made
    major, minor, gauge, tpi, taper = ROWS[thread]
    pitch = 25.4 / tpi
    depths, radius = wall(mesh, 2.1)
    full = (depths > 1.5 * pitch) & (depths < length - 0.2 * pitch)
    # Within a tenth of the height around the pitch line, or above the bore.
    over = 2 * radius - ((major + minor) / 2 - (depths - gauge) * taper)
    flank = full[1:] & (over[1:] > 0.1 * pitch) & (over[1:] < 0.35 * pitch)
    slope = np.diff(radius) / np.diff(depths)
    steep = np.abs(slope[flank] + taper / 2)
    half = 30.0 if "NPT" in thread else 27.5
    assert np.median(steep) == pytest.approx(1 / np.tan(np.radians(half)), rel=0.01)


def test_it_is_right_handed(made):
    thread, _, mesh, _, length, _ = made
    pitch = 25.4 / ROWS[thread][3]
    at = []
    for angle in (0.5, 0.5 + np.pi / 2):
        depths, radius = wall(mesh, angle)
        full = (depths > 1.5 * pitch) & (depths < length - 0.5 * pitch)
        at.append(tops(depths[full], radius[full], pitch, 1)[1, 0])
    # A quarter turn counter-clockwise, seen from the nozzle, rises a quarter pitch towards it.
    rise = ((at[0] - at[1]) / pitch) % 1.0
    assert rise == pytest.approx(0.25, abs=0.02)


def test_3mf_has_the_same_body_and_the_other_files_keep_the_bore(made, tmp_path):
    thread, folder, mesh, _, length, design = made
    points, faces = from_3mf(next(folder.rglob("*.3mf")))
    assert body(points, faces).volume() == pytest.approx(mesh.volume, rel=1e-5)
    facts = next(s for s in design["solids"] if s["name"] == "adaptor")
    assert facts["volume_mm3"] > mesh.volume + 50
    bore = "" if length == THICK else "bore = 6"
    plain = make(tmp_path, thread, False, bore)
    for kind in ("step", "dxf"):
        same = [
            [line for line in (f / f"adaptor.{kind}").read_text().splitlines() if "FILE_NAME" not in line]
            for f in (folder, plain)
        ]
        # The revision counts the parameter file's bytes, so lines that print it differ.
        differ = sum(a != b for a, b in zip(*same))
        assert len(same[0]) == len(same[1]) and differ <= 4, f"{kind}: {differ} lines differ"


def test_too_fine_a_thread_is_refused(tmp_path):
    file = tmp_path / "gauge.toml"
    text = job("Rp 1/8", True, "").replace(f"chord_tolerance = {CHORD}", "chord_tolerance = 0.001")
    file.write_text(text.replace(f"thickness = {THICK}", "thickness = 100"), encoding="utf-8")
    run = subprocess.run([PROGRAM, "make", file, "--out", tmp_path / "out"], capture_output=True, text=True)
    assert run.returncode == 2, run.stderr
    assert "triangles" in run.stderr and not (tmp_path / "out").exists()
