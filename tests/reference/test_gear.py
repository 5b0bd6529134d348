"""Involute gears: the molded part measured against the formulae of ISO 21771.

The part's STL is cut by trimesh in its parting plane, where it has its drawn size. Of the
section shapely measures the thickness of every tooth on several circles, the tip and root
circles, and the span over k teeth between two parallel jaws. The formulae are typed in here
again from ISO 21771:2007 (tooth thickness half angle, base tangent length).
"""
import json
import math
import pathlib
import subprocess

import numpy as np
import pytest
import trimesh
from packages import PROGRAM
from shapely.geometry import LineString, Point

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)
PROGRAM = pathlib.Path(PROGRAM).resolve()

# module, teeth, pressure angle, profile shift, backlash
GEARS = [(2.0, 20, 20.0, 0.0, 0.0), (2.5, 12, 20.0, 0.4, 0.1), (3.0, 17, 25.0, 0.0, 0.2), (1.5, 31, 14.5, 0.1, 0.0)]


def inv(a):
    return math.tan(a) - a


def job(m, z, a, x, j):
    return f"""[job]
name = "gear"
[plastic]
kind = "PP"
[nozzle]
thread = "G 1/2"
[vents]
by_fill = false
[output]
fill = "off"
[part]
thickness = 5
draft = 1
round = false
[part.outline]
shape = "gear"
module = {m}
teeth = {z}
pressure_angle = {a}
profile_shift = {x}
backlash = {j}
bore = {round(0.2 * m * z, 2)}
"""


@pytest.fixture(scope="module", params=GEARS, ids=lambda g: f"m{g[0]}z{g[1]}")
def gear(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("gear")
    (folder / "gear.toml").write_text(job(*request.param), encoding="utf-8")
    done = subprocess.run(
        [PROGRAM, "make", "gear.toml", "--json"], cwd=folder, capture_output=True, text=True, timeout=600
    )
    assert done.returncode in (0, 1), done.stdout + done.stderr
    mesh = trimesh.load(folder / "out/gear/part.stl")
    # A hair below the plane, where the walls have moved by 0.2 µm.
    plane = mesh.section(plane_origin=[0, 0, -0.01], plane_normal=[0, 0, 1])
    flat, to3d = plane.to_2D()
    # Back into the part's own x and y.
    (whole,) = flat.polygons_full
    from shapely.affinity import affine_transform
    t = to3d
    whole = affine_transform(whole, [t[0, 0], t[0, 1], t[1, 0], t[1, 1], t[0, 3], t[1, 3]])
    said = subprocess.run(
        [PROGRAM, "why", "gear.toml", "part.outline.span", "--json"], cwd=folder, capture_output=True, text=True, timeout=120
    )
    return request.param, whole, json.loads(said.stdout)[0]


def middle(whole):
    return np.array(whole.interiors[0].centroid.coords[0])


def test_tip_root_and_bore(gear):
    (m, z, a, x, j), whole, _ = gear
    c = middle(whole)
    r = np.hypot(*(np.array(whole.exterior.coords) - c).T)
    assert 2 * r.max() == pytest.approx(m * (z + 2 + 2 * x), abs=0.02)
    assert 2 * r.min() == pytest.approx(m * (z - 2.5 + 2 * x), abs=0.03)
    bore = np.hypot(*(np.array(whole.interiors[0].coords) - c).T)
    assert 2 * bore.max() == pytest.approx(round(0.2 * m * z, 2), abs=0.02)


def test_every_tooth_has_the_thickness_of_an_involute(gear):
    (m, z, a, x, j), whole, _ = gear
    alpha = math.radians(a)
    d, base = m * z, m * z * math.cos(alpha)
    s = m * (math.pi / 2 + 2 * x * math.tan(alpha)) - j
    for share in (0.0, 0.3, 0.6, 0.85):
        r = d / 2 + share * m * (1 + x)
        half = s / d + inv(alpha) - inv(math.acos(base / (2 * r)))
        circle = Point(*middle(whole)).buffer(r, quad_segs=720).exterior
        arcs = circle.intersection(whole.buffer(0))
        pieces = [g for g in getattr(arcs, "geoms", [arcs]) if g.length > 1e-3]
        # The circle begins somewhere: a tooth there is in two pieces.
        total = sum(p.length for p in pieces)
        assert total / z == pytest.approx(2 * r * half, abs=0.03), share
        assert len(pieces) in (z, z + 1)


def test_the_span_between_two_jaws(gear):
    (m, z, a, x, j), whole, said = gear
    alpha = math.radians(a)
    words = said["value"].split()
    told, k = float(words[0]), int(words[3])
    want = m * math.cos(alpha) * (math.pi * (k - 0.5) + z * inv(alpha)) + 2 * x * m * math.sin(alpha) - j * math.cos(alpha)
    assert told == pytest.approx(want, abs=6e-4)
    # The base tangent midway: the line that touches the base circle, square to the direction in
    # which the middle of k teeth lies, meets the outermost flanks at the jaws.
    c = middle(whole)
    base = m * z * math.cos(alpha) / 2
    turn = 0.0 if k % 2 else math.pi / z
    out = np.array([math.cos(turn), math.sin(turn)])
    along = np.array([-out[1], out[0]])
    line = LineString([c + out * base - along * 2 * m * z, c + out * base + along * 2 * m * z])
    met = line.intersection(whole.exterior)
    at = sorted(float(np.dot(np.array(p.coords[0]) - c, along)) for p in met.geoms)
    spans = [q - p for p in at for q in at if p < 0 < q and abs(p + q) < 0.05]
    assert min(abs(w - want) for w in spans) < 0.02, (want, spans)
