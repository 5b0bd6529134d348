"""Outlines from drawings: areas by svgpathtools and shapely, DXF samples by ezdxf.

Each icon is put on a keyring: as a raised relief, or as the part's own outline. It
must give a valid package, or stop with a reason that is true. Areas are compared with those
of the same path data flattened by svgpathtools and filled by shapely under the nonzero rule.
"""
import json
import math
import os
import subprocess
import xml.etree.ElementTree as ET

import ezdxf
import pytest
from icons import icons
from packages import PROGRAM
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize, unary_union
from svgpathtools import Line, parse_path

NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
COUNT = 300 if NIGHTLY else 30
WIDTH = 24.0

HEAD = """[plastic]
kind = "HDPE"
[nozzle]
thread = "G 1/2"
[vents]
by_fill = false
[output]
fill = "off"
[part]
thickness = 3
draft = 1
"""
RELIEF = (
    HEAD
    + """[part.outline]
shape = "rectangle"
width = 36
height = 36
corner_radius = 6
[[part.feature]]
kind = "boss"
side = "top"
height = 0.6
outline = {{ shape = "file", file = "{file}", width = {width}, fit = 0.005 }}
"""
)
OUTLINE = (
    HEAD
    + """[part.outline]
shape = "file"
file = "{file}"
width = {width}
fit = 0.005
"""
)


def run(folder, text, *arguments):
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return subprocess.run(
        [PROGRAM, *arguments, "job.toml", "--json"], cwd=folder, capture_output=True, text=True, timeout=600
    )


def traced(folder, text, key):
    """What the program says of a drawing: its inputs by name; or its diagnostics."""
    (folder / "job.toml").write_text(text, encoding="utf-8")
    done = subprocess.run(
        [PROGRAM, "why", "job.toml", key + ".file", "--json"],
        cwd=folder, capture_output=True, text=True, timeout=300,
    )
    assert done.returncode in (0, 2), done.stderr
    answer = json.loads(done.stdout)
    if done.returncode == 2:
        return None, answer
    return dict(answer[0]["inputs"]), None


def flat(path, steps=200):
    """The closed loops of path data as point lists."""
    loops = []
    for part in path.continuous_subpaths():
        points = []
        for s in part:
            n = 1 if isinstance(s, Line) else steps
            points += [(s.point(k / n).real, s.point(k / n).imag) for k in range(n)]
        if len(points) > 2:
            loops.append(points)
    return loops


def winding(points, x, y):
    turns = 0
    for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1]):
        side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
        if y0 <= y < y1 and side > 0:
            turns += 1
        elif y1 <= y < y0 and side < 0:
            turns -= 1
    return turns


def drawn_area(file):
    """Area over squared width of what an icon fills, by the outside libraries."""
    shapes = []
    for e in ET.parse(file).getroot().iter():
        if e.tag.endswith("path") and e.get("fill") != "none":
            shapes.append(flat(parse_path(e.get("d"))))
    faces = []
    for loops in shapes:
        rings = unary_union([LineString(p + p[:1]) for p in loops])
        faces += [
            f for f in polygonize(rings)
            if sum(winding(p, *f.representative_point().coords[0]) for p in loops)
        ]
    whole = unary_union(faces)
    x0, _, x1, _ = whole.bounds
    return whole.area / (x1 - x0) ** 2


def sample(kind="filled"):
    files, why = icons(kind)
    if not files:
        return [pytest.param(None, id="none", marks=pytest.mark.skip(reason=why))]
    step = len(files) / COUNT
    return [pytest.param(files[int(k * step)], id=files[int(k * step)].stem) for k in range(COUNT)]


TRUE_REASONS = {
    "outline-pieces", "part-feature", "part-edge", "part-hole", "part-web", "shape-size", "drawing",
}
TALLY = {"made": 0, "refused": {}}


@pytest.mark.parametrize("icon", sample())
def test_an_icon_on_a_keyring(icon, tmp_path):
    (tmp_path / "icon.svg").write_bytes(icon.read_bytes())
    words = {"file": "icon.svg", "width": WIDTH}
    got, faults = traced(tmp_path, RELIEF.format(**words), "part.feature[0].outline")
    if got is None:
        codes = {f["code"] for f in faults}
        assert codes <= TRUE_REASONS, faults
        # The drawing itself must have been understood: only the mold's limits may refuse it.
        assert all(f["code"] != "drawing" or "touches itself" in f["message"] for f in faults), faults
        for c in codes:
            TALLY["refused"][c] = TALLY["refused"].get(c, 0) + 1
        return
    expect = drawn_area(icon) * WIDTH**2
    area = float(got["area"].split()[0])
    assert area == pytest.approx(expect, rel=1e-3), icon.stem
    done = run(tmp_path, RELIEF.format(**words), "make", "--out", "out")
    assert done.returncode in (0, 1), done.stdout + done.stderr
    TALLY["made"] += 1


@pytest.mark.parametrize("icon", sample())
def test_an_icon_as_the_outline(icon, tmp_path):
    (tmp_path / "icon.svg").write_bytes(icon.read_bytes())
    got, faults = traced(tmp_path, OUTLINE.format(file="icon.svg", width=WIDTH), "part.outline")
    if got is None:
        codes = {f["code"] for f in faults}
        assert codes <= TRUE_REASONS, faults
        assert all("picture" in f for f in faults if f["code"] == "outline-pieces")
        return
    expect = drawn_area(icon) * WIDTH**2
    assert float(got["area"].split()[0]) == pytest.approx(expect, rel=1e-3), icon.stem


def test_how_many():
    """Runs last of the icons: prints the count, and most of them must be makeable."""
    print(TALLY)
    if icons()[0]:
        assert TALLY["made"] >= 0.7 * COUNT, TALLY


# --- lines ----


def line_area(file):
    """Area over squared width of what a pen two units wide with round ends leaves, by shapely."""
    lines = []
    for e in ET.parse(file).getroot().iter():
        if e.tag.endswith("path") and e.get("stroke") != "none":
            for part in parse_path(e.get("d")).continuous_subpaths():
                points = []
                for s in part:
                    n = 1 if isinstance(s, Line) else 100
                    points += [s.point(k / n) for k in range(n + 1)]
                lines.append(LineString([(p.real, p.imag) for p in points]).buffer(1.0, quad_segs=90))
    whole = unary_union(lines)
    x0, _, x1, _ = whole.bounds
    return whole.area / (x1 - x0) ** 2


LINES = {"made": 0, "refused": []}


@pytest.mark.parametrize("icon", sample("outline"))
def test_an_icon_of_lines_on_a_keyring(icon, tmp_path):
    (tmp_path / "icon.svg").write_bytes(icon.read_bytes())
    words = {"file": "icon.svg", "width": WIDTH}
    got, faults = traced(tmp_path, RELIEF.format(**words), "part.feature[0].outline")
    if got is None:
        assert {f["code"] for f in faults} <= TRUE_REASONS, faults
        # What is taller than the tag does not fit it, however well it was read.
        if not all("reaches beyond" in f["message"] for f in faults):
            LINES["refused"].append((icon.stem, faults[0]["message"]))
        return
    LINES["made"] += 1
    # Lines are narrower by up to 0.01 mm a side, ends by 0.0125 mm.
    assert float(got["area"].split()[0]) == pytest.approx(line_area(icon) * WIDTH**2, rel=0.02), icon.stem


def test_how_many_of_lines():
    """Nineteen of twenty drawings of lines can be read."""
    print(LINES)
    if icons()[0]:
        assert len(LINES["refused"]) <= 0.05 * COUNT, LINES


# --- DXF -------------------------------------------------------------------------


def every_entity(doc):
    """A 60 × 40 plate drawn with every kind of entity, and its exact area."""
    m = doc.modelspace()
    # Outline: an arc for the left side, lines and a polyline with a bulge for the rest.
    m.add_line((0, 0), (60, 0))
    m.add_line((60, 40), (60, 0))
    m.add_lwpolyline([(60, 40, 0), (30, 40, 0.2), (0, 40, 0)], format="xyb")
    m.add_arc((-15, 20), 25, math.degrees(-math.atan2(20, 15)), math.degrees(math.atan2(20, 15)))
    radius = 30 / 2 * (1 / 0.2 + 0.2) / 2
    angle = 4 * math.atan(0.2)
    bump = radius**2 / 2 * (angle - math.sin(angle))
    left = 25**2 / 2 * (2 * math.atan2(20, 15) - math.sin(2 * math.atan2(20, 15)))
    # A positive bulge lies to the right of the way: the polyline runs left, so it adds.
    area = 60 * 40 - left + bump
    # Holes.
    m.add_circle((30, 10), 4)
    m.add_ellipse((45, 28), major_axis=(6, 0), ratio=0.5)
    block = doc.blocks.new("PIN")
    block.add_circle((0, 0), 1.5)
    m.add_blockref("PIN", (20, 30))
    m.add_blockref("PIN", (45, 10), dxfattribs={"xscale": 2, "yscale": 2, "rotation": 30})
    m.add_polyline2d([(14, 8), (20, 8), (20, 12), (14, 12)], close=True)
    points = [(26, 20), (34, 20), (36, 25), (30, 29), (24, 25)]
    s = ezdxf.math.closed_uniform_bspline(points, order=4)
    m.add_spline().apply_construction_tool(s)
    flat_spline = Polygon([(p.x, p.y) for p in s.approximate(4000)])
    area -= math.pi * 16 + math.pi * 18 + math.pi * 1.5**2 + math.pi * 9 + 24 + flat_spline.area
    m.add_text("not cut")
    m.add_point((1, 1))
    return area


@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2018"])
def test_dxf_of_every_entity(version, tmp_path):
    doc = ezdxf.new(version, units=4)
    if version == "R12":
        m = doc.modelspace()
        m.add_polyline2d([(0, 0, 0), (60, 0, 1), (60, 40, 0), (0, 40, 0)], format="xyb", close=True)
        m.add_circle((20, 20), 5)
        area = 60 * 40 + math.pi * 400 / 2 - math.pi * 25
        holes, scale = 1, "scale = 1\n"
    else:
        area, holes, scale = every_entity(doc), 6, ""
    doc.saveas(tmp_path / "plate.dxf")
    text = HEAD + f'[part.outline]\nshape = "file"\nfile = "plate.dxf"\n{scale}'
    got, faults = traced(tmp_path, text, "part.outline")
    assert got is not None, faults
    assert int(got["holes"]) == holes
    assert float(got["area"].split()[0]) == pytest.approx(area, rel=1e-4)


def test_dxf_circles_come_back_as_circles(tmp_path):
    doc = ezdxf.new("R2000", units=1)  # inches
    m = doc.modelspace()
    m.add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)
    for x, d in [(0.5, 0.25), (1.0, 0.3125), (1.5, 0.5)]:
        m.add_circle((x, 0.5), d / 2)
    doc.saveas(tmp_path / "plate.dxf")
    text = HEAD + '[part.outline]\nshape = "file"\nfile = "plate.dxf"\n'
    got, _ = traced(tmp_path, text, "part.outline")
    assert float(got["area"].split()[0]) == pytest.approx(
        25.4**2 * (2 - math.pi / 4 * (0.25**2 + 0.3125**2 + 0.5**2)), abs=1e-4
    )
    # Four lines and three circles of two half circles each: nothing was fitted.
    assert int(got["lines and arcs"]) == 10


def test_layers_by_name(tmp_path):
    doc = ezdxf.new("R2000", units=4)
    doc.layers.add("CUT")
    doc.layers.add("NOTES")
    m = doc.modelspace()
    m.add_lwpolyline([(0, 0), (40, 0), (40, 30), (0, 30)], close=True, dxfattribs={"layer": "CUT"})
    m.add_line((0, 0), (40, 30), dxfattribs={"layer": "NOTES"})
    doc.saveas(tmp_path / "plate.dxf")
    text = HEAD + '[part.outline]\nshape = "file"\nfile = "plate.dxf"\n'
    _, faults = traced(tmp_path, text, "part.outline")
    assert faults[0]["code"] == "drawing" and "picture" in faults[0]
    got, _ = traced(tmp_path, text + 'layers = ["CUT"]\n', "part.outline")
    assert float(got["area"].split()[0]) == pytest.approx(1200, abs=1e-4)
    _, faults = traced(tmp_path, text + 'layers = ["CUTS"]\n', "part.outline")
    assert "NOTES" in faults[0]["remedy"]
