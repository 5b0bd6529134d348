"""The DXF regions against sections of the STEP file, level by level, in the reference kernel.

Each plate is cut 0.05 mm below either face and below each floor. The metal there (Open CASCADE:
area of a flat face in common with the solid) is compared with the regions that the DXF file gives
for all features (ezdxf, shapely), each set in by what its wall has moved there: within 3 µm times
the length of the edges. A contour that no body asks for, or a body without its contour, fails.
"""
import functools
import math
import os

import ezdxf
import pytest
import shapely
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepGProp import BRepGProp
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.GProp import GProp_GProps
from packages import few, some
from shapely.geometry import LineString, Point, Polygon
from shapes import read
from solids import dish_depth, steps
from test_dxf import corners, contours, kerf, ring, seen, tag_of, vertices

NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
BELOW = 0.05
# Distance of an edge from where it should be, mm.
EDGE = 0.003
# A contour of the file is that of a body when area and middle agree so far.
ALIKE = 1e-4


def facetted(forms):
    return any(f["form"] == "mesh" for f in forms)


def forms(feature):
    return [b[1] for b in feature.get("bodies", [])]


CASES = [
    pytest.param(p, q, id=f"{p.name}/{q['name']}")
    for p in (some(200) if NIGHTLY else few(8))
    for q in p.made
    if p.exact(q["name"]) and not any(
        f["shape"] == "outside" or facetted(forms(f)) for f in q["features"]
    ) and not kerf(p.file(q["name"] + ".dxf"))
]


@functools.lru_cache(maxsize=2)
def solid(path):
    return read(path)


def metal(shape, z):
    """Area of the solid at a height, mm²."""
    plane = gp_Pln(gp_Pnt(0, 0, z), gp_Dir(0, 0, 1))
    face = BRepBuilderAPI_MakeFace(plane, -900, 900, -900, 900).Face()
    facts = GProp_GProps()
    BRepGProp.SurfaceProperties_s(BRepAlgoAPI_Common(face, shape).Shape(), facts)
    return facts.Mass()


def polygon(points):
    return Polygon(ring(points, 200)).buffer(0)


class Cut:
    """The contours of a DXF file by tag, and which of them were asked for."""

    def __init__(self, path):
        self.closed, self.open, self.circles, self.used = {}, {}, {}, set()
        for e in ezdxf.readfile(path).modelspace():
            layer, tag = e.dxf.layer.removesuffix("_BACK"), tag_of(e)
            if layer in ("NOTES", "CENTRE_MARKS", "THREADS"):
                continue
            if e.dxftype() == "CIRCLE":
                c = e.dxf.center
                self.circles.setdefault(tag, []).append((c.x, c.y, e.dxf.radius))
                made = Point(c.x, c.y).buffer(e.dxf.radius, 512)
                self.closed.setdefault(tag, []).append(made)
            elif vertices(e)[1]:
                self.closed.setdefault(tag, []).append(polygon(vertices(e)[0]))
            else:
                self.open.setdefault(tag, []).append(ring(vertices(e)[0] + [vertices(e)[0][-1]], 200))

    def like(self, tag, wanted):
        """The contour that lies where `wanted` lies."""
        for k, got in enumerate(self.closed.get(tag, [])):
            near = got.centroid.distance(wanted.centroid) < ALIKE * math.sqrt(wanted.area) + 1e-4
            if near and abs(got.area - wanted.area) < ALIKE * wanted.area:
                self.used.add((tag, k))
                return got
        return None


def inset(region, by):
    if abs(by) < 1e-9:
        return region
    return region.buffer(-by, join_style="mitre", mitre_limit=50)


def across(profile, z):
    """How far a wall has moved in at a height; None above and below it."""
    for a, b in zip(profile, profile[1:]):
        if a["z"] - 1e-9 <= z <= b["z"] + 1e-9 and b["z"] > a["z"]:
            if not a["bulge"]:
                return a["across"] + (b["across"] - a["across"]) * (z - a["z"]) / (b["z"] - a["z"])
            points = ring([(a["across"], a["z"], a["bulge"]), (b["across"], b["z"], 0)], 4000)
            points.append((b["across"], b["z"]))
            for (x0, z0), (x1, z1) in zip(points, points[1:]):
                if min(z0, z1) <= z <= max(z0, z1):
                    return x0 + (x1 - x0) * ((z - z0) / (z1 - z0) if z1 != z0 else 0)
    return None


def revolved(section, z):
    """Radii between which a section is met at a height."""
    area = polygon(section)
    x0, y0, x1, y1 = area.bounds
    if not y0 < z < y1:
        return []
    met = area.intersection(LineString([(-1, z), (x1 + 1, z)]))
    return [(g.bounds[0], g.bounds[2]) for g in shapely.get_parts(met) if g.length > 1e-9]


def rings(at, radii):
    disc = [(Point(at).buffer(b, 512), Point(at).buffer(a, 512) if a > 1e-9 else Polygon()) for a, b in radii]
    return shapely.union_all([outer.difference(inner) for outer, inner in disc])


def body_at(plate, form, z, cut, tag, near):
    """A body of an impression at a height, from its contours in the file; `near` is what it meets."""
    kind = form["form"]
    if kind == "prism":
        wanted = [Polygon(ring([(*seen(plate, p[:2]), -p[2] if plate["reference"] == "low" else p[2])
                                for p in corners(c)], 200)).buffer(0) for c in contours(form["region"])]
        by = across(form["profile"], z)
        got = [cut.like(tag, w) for w in wanted]
        if by is None:
            return Polygon()
        # What stands in nothing of this plate has no contour in its file.
        if all(g is None for g in got) and not wanted[0].intersects(near):
            return Polygon()
        assert all(g is not None for g in got), f"{tag}: a body without its contour"
        return inset(functools.reduce(lambda a, b: a.difference(b), got), by)
    if kind in ("turned", "revolved"):
        at = seen(plate, form["at"])
        if kind == "turned":
            p = [(q["across"], q["z"], q["bulge"]) for q in form["profile"]]
            p[-1] = (*p[-1][:2], 0)
            section = [*p, (0, p[-1][1], 0), (0, p[0][1], 0)]
        else:
            section = corners(form["section"])
        return rings(at, revolved(section, z))
    if kind == "groove":
        path = ring([(*seen(plate, p[:2]), 0) for p in corners(form["path"])] * 1, 2)
        off = abs(z - form["z"])
        side = (z < form["z"]) == form["below"]
        if not side or off >= form["radius"]:
            return Polygon()
        return LineString(path).buffer(math.sqrt(form["radius"] ** 2 - off**2), 256)
    raise AssertionError(kind)


def hole_at(plate, feature, depth, cut):
    radius = 0.0
    for d0, r0, d1, r1 in steps(plate, feature):
        if d0 - 1e-9 <= depth <= d1 + 1e-9 and d1 > d0:
            radius = max(radius, r0 + (r1 - r0) * (depth - d0) / (d1 - d0))
    for s in feature["steps"]:
        if s["step"] == "dish" and depth < dish_depth(s):
            up = s["radius"] - dish_depth(s) + depth
            radius = max(radius, math.sqrt(s["radius"] ** 2 - up**2))
        # Right through goes on past the other face.
    x, y = cut.circles[feature["tag"]][0][:2]
    return Point(x, y).buffer(radius, 512) if radius > 0 else Polygon()


def feature_at(plate, f, z, cut):
    """(hollow, standing) of a feature at a height, from the file."""
    top = plate["z_high"] if f["face"] == "high" else plate["z_low"]
    depth = abs(z - top) if (z <= top) == (f["face"] == "high") else -1.0
    tag, none = f["tag"], Polygon()
    kind = f["shape"]
    if kind == "hole":
        return (hole_at(plate, f, depth, cut) if depth >= 0 else none), none
    if kind == "pocket":
        wanted = [Polygon(ring([(*seen(plate, p[:2]), -p[2] if plate["reference"] == "low" else p[2])
                                for p in corners(c)], 200)).buffer(0) for c in contours(f["region"])]
        got = [cut.like(tag, w) for w in wanted]
        assert all(g is not None for g in got), f"{tag}: no contour"
        region = functools.reduce(lambda a, b: a.difference(b), got)
        if not 0 <= depth <= f["depth"]:
            return none, none
        return inset(region, depth * math.tan(math.radians(f["draft_deg"]))), none
    if kind == "groove":
        (path,) = cut.open[tag]
        if not 0 <= depth < f["radius"]:
            return none, none
        return LineString(path).buffer(math.sqrt(f["radius"] ** 2 - depth**2), 256), none
    here = none
    for role, form in f["bodies"]:
        at = body_at(plate, form, z, cut, tag, here)
        here = here.union(at) if role == "add" else here.difference(at)
    if kind == "core":
        return none, here
    return here, none


def floors(plate, feature):
    """Depths of a feature's floors from its face."""
    top = plate["z_high"] if feature["face"] == "high" else plate["z_low"]
    if feature["shape"] in ("pocket", "groove"):
        return [feature.get("depth", feature.get("radius"))]
    if feature["shape"] == "hole":
        return [d for step in steps(plate, feature) for d in (step[0], step[2])]
    out = []
    for _, form in feature.get("bodies", []):
        points = form.get("profile") or [{"z": v["at"][1]} for v in form.get("section", [])]
        out += [abs(p["z"] - top) for p in points if (p["z"] <= top) == (feature["face"] == "high")]
    return out


def levels(plate):
    """Heights to look at: below the faces and the floors, clear of other floors."""
    thick = plate["z_high"] - plate["z_low"]
    depths = {("high", 0.0), ("low", 0.0)}
    for f in plate["features"]:
        depths |= {(f["face"], round(d, 6)) for d in floors(plate, f)}
    known = [plate["z_high"] - d if face == "high" else plate["z_low"] + d for face, d in depths]
    out = set()
    for face, d in depths:
        z = plate["z_high"] - d - BELOW if face == "high" else plate["z_low"] + d + BELOW
        if 0.01 < d + BELOW < thick - 0.01 and min(abs(z - k) for k in known) > 0.004:
            out.add(round(z, 6))
    return sorted(out)


@pytest.mark.parametrize("package, plate", CASES)
def test_regions_are_the_sections_of_the_solid(package, plate):
    shape = solid(package.file(f"{plate['name']}.step"))
    cut = Cut(package.file(f"{plate['name']}.dxf"))
    outline = functools.reduce(lambda a, b: a.difference(b), sorted(
        (polygon([(*seen(plate, p[:2]), -p[2] if plate["reference"] == "low" else p[2]) for p in corners(c)])
         for c in contours(plate["outline"])), key=lambda p: -p.area))
    outline = cut.like("", outline)
    assert outline is not None, "the outline"
    heights = levels(plate)
    assert len(heights) >= 2
    for z in heights:
        hollow, standing = Polygon(), []
        for f in plate["features"]:
            h, s = feature_at(plate, f, z, cut)
            hollow = hollow.union(h)
            standing.append(s)
        want = outline.difference(hollow).union(shapely.union_all(standing))
        got = metal(shape, z)
        assert abs(got - want.area) <= EDGE * want.length, (
            f"at z = {z}: {got:.4f} mm² in the solid, {want.area:.4f} by the cut file, "
            f"{abs(got - want.area) / want.length * 1000:.2f} µm along {want.length:.0f} mm"
        )


def test_there_is_something_to_check():
    assert CASES
