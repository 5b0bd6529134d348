"""The DXF files of a package, read by ezdxf and measured by shapely.

Source of truth: ezdxf (reads and audits), shapely (areas). Checked here: the audit
finds nothing to report or to mend; units; closed contours on the cut layer; every hole
circle for circle, every pocket by area.

Expected circles come from the steps in design.json by sampling the finished radius
along the hole's depth, not by the rule the program uses.
"""
import math
import tomllib

import ezdxf
import pytest
from ezdxf.math import bulge_to_arc
from packages import PACKAGES
from shapely.geometry import Polygon

CASES = [
    pytest.param(plate, p.file(plate["name"] + ".dxf"), id=f"{p.name}/{plate['name']}")
    for p in PACKAGES
    for plate in p.made
]


def test_there_is_something_to_check():
    assert CASES


def seen(plate, p):
    """A point as read from the reference face, from the datum."""
    x, y = p[0] - plate["datum"][0], p[1] - plate["datum"][1]
    return (-x if plate["reference"] == "low" else x, y)


def tag_of(e):
    return e.get_xdata("PLATEWRIGHT")[0].value if e.has_xdata("PLATEWRIGHT") else ""


def vertices(e):
    """x, y, bulge of either kind of polyline."""
    if e.dxftype() == "LWPOLYLINE":
        return [(x, y, b) for x, y, b in e.get_points("xyb")], e.closed
    return [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in e.vertices], e.is_closed


def ring(points, steps=4000):
    """A closed chain with bulges as a fine polygon."""
    out = []
    for (x0, y0, b), (x1, y1, _) in zip(points, points[1:] + points[:1]):
        out.append((x0, y0))
        if b:
            centre, a0, a1, r = bulge_to_arc((x0, y0), (x1, y1), b)
            if a1 <= a0:
                a1 += 2 * math.pi
            arc = [a0 + (a1 - a0) * k / steps for k in range(1, steps)]
            arc = arc if b > 0 else arc[::-1]
            out += [(centre.x + r * math.cos(a), centre.y + r * math.sin(a)) for a in arc]
    return out


def kerf(path):
    """What the parameter file asks to be compensated, mm."""
    (file,) = path.parent.glob("*.toml")
    value = tomllib.loads(file.read_text(encoding="utf-8")).get("output", {}).get("kerf", 0)
    return float(str(value).removesuffix("mm"))


def corners(contour):
    return [(*v["at"], v["bulge"]) for v in contour]


def opens(plate, feature):
    """Right through with upright walls: cut out by a beam."""
    thick = plate["z_high"] - plate["z_low"]
    return feature["depth"] >= thick - 1e-6 and feature["draft_deg"] == 0


def area(points):
    return Polygon(ring(points)).area


def exact_area(contour):
    """Shoelace plus circular segments, unsigned."""
    total = 0.0
    v = [(*p["at"], p["bulge"]) for p in contour]
    for (x0, y0, b), (x1, y1, _) in zip(v, v[1:] + v[:1]):
        total += 0.5 * (x0 * y1 - x1 * y0)
        if b:
            sweep = 4 * math.atan(b)
            r = 0.25 * math.hypot(x1 - x0, y1 - y0) * abs(b + 1 / b)
            total += 0.5 * r * r * (sweep - math.sin(sweep))
    return abs(total)


def contours(region):
    return [region["outer"]] + region.get("holes", [])


def finished_diameters(steps):
    """Diameters met on constant stretches of the finished wall, and taper ends."""
    depth = 1000.0
    reach = []
    for s in steps:
        d = s.get("depth", 0.0)
        d = depth if d == "through" else d["blind"] if isinstance(d, dict) else d
        reach.append(d)
    out = set()
    for s in steps:
        if s["step"] == "taper":
            out |= {round(s["dia_face"], 9), round(s["dia_end"], 9)}
        if s["step"] in ("countersink", "dish"):
            out.add(round(s["dia"], 9))
    cuts = sorted({0.0, *reach})
    for a, b in zip(cuts, cuts[1:]):
        widest = 0.0
        for s, d in zip(steps, reach):
            if s["step"] in ("tap", "countersink", "dish", "groove") or d < b:
                continue
            if s["step"] == "taper":
                t = 0.5 * (a + b) / d
                w = s["dia_face"] + (s["dia_end"] - s["dia_face"]) * t
            else:
                w = s["dia"]
            if w > widest:
                widest, kind = w, s["step"]
        if widest and kind != "taper":
            out.add(round(widest, 9))
    return out


@pytest.mark.parametrize("plate, path", CASES)
def test_audit_finds_nothing(plate, path):
    doc = ezdxf.readfile(path)
    audit = doc.audit()
    assert [e.message for e in audit.errors] == []
    assert [e.message for e in audit.fixes] == []
    assert doc.dxfversion in ("AC1015", "AC1009")
    if doc.dxfversion == "AC1015":
        assert doc.header["$INSUNITS"] == 4 and doc.header["$MEASUREMENT"] == 1
    for layer in {e.dxf.layer for e in doc.modelspace()}:
        assert layer in doc.layers


@pytest.mark.parametrize("plate, path", CASES)
def test_cut_layer_is_closed_and_has_the_plates_area(plate, path):
    got = []
    for e in ezdxf.readfile(path).modelspace():
        if e.dxf.layer == "OUTLINE":
            if e.dxftype() == "CIRCLE":
                got.append(math.pi * e.dxf.radius**2)
            else:
                points, is_closed = vertices(e)
                assert is_closed
                got.append(area(points))
        elif e.dxf.layer == "THROUGH_HOLES":
            assert e.dxftype() == "CIRCLE"
    half = 0.5 * kerf(path)
    if half:
        outer, *holes = (Polygon(ring(corners(c))) for c in contours(plate["outline"]))
        want = [outer.buffer(half, 256).area, *(h.buffer(-half, 256).area for h in holes)]
    else:
        want = [exact_area(c) for c in contours(plate["outline"])]
    assert sorted(got) == pytest.approx(sorted(want), rel=1e-5 if half else 1e-6)


@pytest.mark.parametrize("plate, path", CASES)
def test_a_note_says_what_to_cut_it_from(plate, path):
    notes = [e for e in ezdxf.readfile(path).modelspace() if e.dxf.layer == "NOTES"]
    assert [e.dxftype() for e in notes] == ["TEXT"]
    said, low = notes[0].dxf.text, notes[0].dxf.insert.y + notes[0].dxf.height
    thick = plate["z_high"] - plate["z_low"]
    assert said.startswith(f"{plate['name']}, ") and f", {thick:.4f}".rstrip("0").rstrip(".") in said
    assert ("compensated for a kerf" in said) == bool(kerf(path)) and "1 piece" in said
    assert low < min(seen(plate, p)[1] for c in contours(plate["outline"]) for p in corners(c))


@pytest.mark.parametrize("plate, path", CASES)
def test_holes_circle_for_circle(plate, path):
    circles, marks = {}, {}
    for e in ezdxf.readfile(path).modelspace():
        if e.dxftype() == "CIRCLE" and e.dxf.layer.split("_BACK")[0] in (
            "THROUGH_HOLES", "BLIND_HOLES", "THREADS",
        ):
            c = e.dxf.center
            circles.setdefault(tag_of(e), []).append((e.dxf.layer, c.x, c.y, 2 * e.dxf.radius))
        if e.dxf.layer == "CENTRE_MARKS":
            marks.setdefault(tag_of(e), []).append((e.dxf.location.x, e.dxf.location.y))
    holes = {f["tag"]: f for f in plate["features"] if f["shape"] == "hole"}
    assert set(circles) == set(holes) == set(marks)
    for tag, f in holes.items():
        at = seen(plate, f["at"])
        assert len(marks[tag]) == 1 and marks[tag][0] == pytest.approx(at, abs=1e-9)
        for layer, x, y, _ in circles[tag]:
            assert (x, y) == pytest.approx(at, abs=1e-9), tag
        cut = sorted(d for layer, _, _, d in circles[tag] if not layer.startswith("THREADS"))
        assert cut == pytest.approx(sorted(finished_diameters(f["steps"])), abs=1e-9), tag
        thread = sorted(d for layer, _, _, d in circles[tag] if layer.startswith("THREADS"))
        want = sorted(s["major"] for s in f["steps"] if s["step"] == "tap")
        assert thread == pytest.approx(want, abs=1e-9), tag
        through = [s for s in f["steps"] if s.get("depth") == "through" and s["step"] != "tap"]
        on_through = [d for layer, _, _, d in circles[tag] if layer == "THROUGH_HOLES"]
        assert len(on_through) == (1 if through else 0), tag


@pytest.mark.parametrize("plate, path", CASES)
def test_pockets_have_their_area_and_place(plate, path):
    by_tag = {}
    for e in ezdxf.readfile(path).modelspace():
        if e.dxf.layer.startswith(("POCKETS", "VENTS", "ENGRAVING", "CUTOUTS")):
            by_tag.setdefault(tag_of(e), []).append(e)
    pockets = {f["tag"]: f for f in plate["features"] if f["shape"] == "pocket"}
    for tag, f in pockets.items():
        got, want = [], []
        for e in by_tag.pop(tag):
            if e.dxftype() == "CIRCLE":
                got.append((math.pi * e.dxf.radius**2, e.dxf.center.x, e.dxf.center.y))
            else:
                points, is_closed = vertices(e)
                assert is_closed
                p = Polygon(ring(points, 400))
                got.append((area(points), p.centroid.x, p.centroid.y))
        half = 0.5 * kerf(path) if opens(plate, f) else 0
        for c in contours(f["region"]):
            p = Polygon(ring(corners(c), 400))
            whole = exact_area(c)
            if half:
                # Half the kerf lies in the scrap.
                whole += p.buffer(-half, 64).area - p.area
                p = p.buffer(-half, 64)
            want.append((whole, *seen(plate, (p.centroid.x, p.centroid.y))))
        for g, w in zip(sorted(got), sorted(want), strict=True):
            near = 1e-5 if half else 1e-6
            assert g == pytest.approx(w, rel=near, abs=10 * near if half else near), tag
    # Ends turned on a bar: edges of their section, about the axis.
    for f in plate["features"]:
        if f["shape"] == "outside":
            edges = [d for s in f["steps"] for d in (s.get("start"), s.get("end"), s.get("dia")) if d]
            circles = by_tag.pop(f["tag"])
            assert len(circles) >= 2
            for c in circles:
                assert math.hypot(c.dxf.center.x, c.dxf.center.y) < 1e-6
                assert min(abs(2 * c.dxf.radius - d) for d in edges) < 1e-6, (f["tag"], c.dxf.radius)
    assert by_tag == {}
