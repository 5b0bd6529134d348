"""Plates built by the reference kernel's own primitives and booleans from design.json.

Written from the meaning of the features, not from the program's code: each step of
a hole is a primitive of its own, pockets are prisms, drafted walls are cones and
planes through two sections, grooves are cylinders, tori and balls.
"""
import math

from OCP.collections import List_TopoDS_Shape
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeRevol,
    BRepPrimAPI_MakeSphere,
    BRepPrimAPI_MakeTorus,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Vec
from shapely.geometry import Point, Polygon

OVER = 1.0  # tools reach this far beyond the face they cut, mm


def unbuildable(what):
    raise NotImplementedError(what)


# ---- outlines -------------------------------------------------------------


def segments(vertices, closed=True):
    """(x0, y0, x1, y1, bulge) of every segment."""
    n = len(vertices)
    for i in range(n if closed else n - 1):
        a, b = vertices[i], vertices[(i + 1) % n]
        yield (*a["at"], *b["at"], a["bulge"])


def arc(x0, y0, x1, y1, bulge):
    """Centre, radius and middle of an arc with this bulge = tan(angle / 4)."""
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    dx, dy = x1 - x0, y1 - y0
    # The middle lies half the chord times the bulge to the right of the chord.
    mx, my = cx + dy / 2 * bulge, cy - dx / 2 * bulge
    h = (1 / bulge - bulge) / 4
    ox, oy = cx - dy * h, cy + dx * h
    return (ox, oy), math.hypot(x0 - ox, y0 - oy), (mx, my)


def is_circle(vertices):
    return len(vertices) == 2 and all(v["bulge"] == 1.0 for v in vertices)


def circle_of(vertices):
    (x0, y0), (x1, y1) = vertices[0]["at"], vertices[1]["at"]
    return ((x0 + x1) / 2, (y0 + y1) / 2), math.hypot(x1 - x0, y1 - y0) / 2


def inward(vertices, across):
    """The contour moved inward (to the left of a counter-clockwise run)."""
    if across == 0:
        return vertices
    segs = list(segments(vertices))
    out = []
    for i, (x0, y0, x1, y1, bulge) in enumerate(segs):
        # Start directions of this piece and end direction of the one before.
        before = direction(segs[i - 1], end=True)
        after = direction(segs[i], end=False)
        cross = before[0] * after[1] - before[1] * after[0]
        straight = segs[i - 1][4] == 0 and bulge == 0
        if abs(cross) > 1e-9 and not straight:
            unbuildable("a sharp corner at an arc")
        # Mitre: the point at `across` from both lines.
        bx, by = -before[1] - after[1], before[0] + after[0]
        k = across * 2 / (bx * bx + by * by)
        x, y = x0 + bx * k, y0 + by * k
        out.append({"at": [x, y], "bulge": bulge})
    return out


def direction(seg, end):
    x0, y0, x1, y1, bulge = seg
    angle = math.atan2(y1 - y0, x1 - x0)
    angle += 2 * math.atan(bulge) * (1 if end else -1)
    return math.cos(angle), math.sin(angle)


def wire(vertices, z):
    make = BRepBuilderAPI_MakeWire()
    for x0, y0, x1, y1, bulge in segments(vertices):
        a, b = gp_Pnt(x0, y0, z), gp_Pnt(x1, y1, z)
        if bulge == 0:
            make.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
        else:
            _, _, (mx, my) = arc(x0, y0, x1, y1, bulge)
            curve = GC_MakeArcOfCircle(a, gp_Pnt(mx, my, z), b).Value()
            make.Add(BRepBuilderAPI_MakeEdge(curve).Edge())
    return make.Wire()


def prism(region, z0, z1):
    face = BRepBuilderAPI_MakeFace(wire(region["outer"], z0))
    for hole in region.get("holes", []):
        face.Add(wire(hole, z0))
    return BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, z1 - z0)).Shape()


def frustum(vertices, a0, z0, a1, z1):
    """Between the contour moved inward by a0 at z0 and by a1 at z1."""
    if is_circle(vertices):
        (x, y), r = circle_of(vertices)
        return cone(x, y, r - a0, z0, r - a1, z1)
    if a0 == a1:
        return prism({"outer": inward(vertices, a0)}, z0, z1)
    loft = BRepOffsetAPI_ThruSections(True, True, 1e-9)
    loft.AddWire(wire(inward(vertices, a0), z0))
    loft.AddWire(wire(inward(vertices, a1), z1))
    loft.CheckCompatibility(False)
    return loft.Shape()


def cone(x, y, r0, z0, r1, z1):
    if z0 > z1:
        r0, z0, r1, z1 = r1, z1, r0, z0
    ax = gp_Ax2(gp_Pnt(x, y, z0), gp_Dir(0, 0, 1))
    if abs(r0 - r1) < 1e-12:
        return BRepPrimAPI_MakeCylinder(ax, r0, z1 - z0).Shape()
    return BRepPrimAPI_MakeCone(ax, r0, r1, z1 - z0).Shape()


# ---- features -------------------------------------------------------------


def depth_of(depth, thickness):
    return thickness if depth == "through" else depth["blind"]


def steps(plate, feature):
    """Primitives of a hole: (depth 0, radius 0, depth 1, radius 1)."""
    t = plate["z_high"] - plate["z_low"]
    out = []
    for s in feature["steps"]:
        kind = s["step"]
        if kind == "drill":
            d = depth_of(s["depth"], t)
            r = s["dia"] / 2
            out.append((0, r, d, r))
            if s["depth"] != "through" and s["point_deg"] < 180:
                out.append((d, r, d + r / math.tan(math.radians(s["point_deg"] / 2)), 0))
        elif kind == "ream":
            out.append((0, s["dia"] / 2, depth_of(s["depth"], t), s["dia"] / 2))
        elif kind == "counterbore":
            out.append((0, s["dia"] / 2, s["depth"], s["dia"] / 2))
        elif kind == "countersink":
            r = s["dia"] / 2
            out.append((0, r, r / math.tan(math.radians(s["angle_deg"] / 2)), 0))
        elif kind == "taper":
            out.append((0, s["dia_face"] / 2, s["depth"], s["dia_end"] / 2))
        elif kind == "groove":
            out.append((s["from"], s["dia"] / 2, s["to"], s["dia"] / 2))
        elif kind not in ("tap", "dish"):
            unbuildable(kind)
    return out


def dish_depth(step):
    r = step["radius"]
    return r - math.sqrt(r * r - step["dia"] ** 2 / 4)


def dishes(plate, feature):
    """The whole ball of a spherical dish: only its cap lies in the plate."""
    low = feature["face"] == "low"
    z, up = (plate["z_low"], 1) if low else (plate["z_high"], -1)
    for s in feature["steps"]:
        if s["step"] == "dish":
            centre = z + up * (dish_depth(s) - s["radius"])
            yield BRepPrimAPI_MakeSphere(gp_Pnt(*feature["at"], centre), s["radius"]).Shape()


def hole(plate, feature):
    t = plate["z_high"] - plate["z_low"]
    x, y = feature["at"]
    low = feature["face"] == "low"
    z = plate["z_low"] if low else plate["z_high"]
    up = 1 if low else -1
    yield from dishes(plate, feature)
    for d0, r0, d1, r1 in steps(plate, feature):
        yield cone(x, y, r0, z + up * d0, r1, z + up * d1)
        for d, r, beyond in ((d0, r0, -OVER), (d1, r1, OVER)):
            # Open at a face: go on straight.
            if abs(d if beyond < 0 else d - t) < 1e-9 and r > 0:
                yield cone(x, y, r, z + up * d, r, z + up * (d + beyond))


def pocket(plate, feature):
    low = feature["face"] == "low"
    z = plate["z_low"] if low else plate["z_high"]
    up = 1 if low else -1
    deep = z + up * feature["depth"]
    across = feature["depth"] * math.tan(math.radians(feature["draft_deg"]))
    region = feature["region"]
    if across and region.get("holes"):
        unbuildable("draft with islands")
    if across:
        yield frustum(region["outer"], 0, z, across, deep)
        yield prism(region, z, z - up * OVER)
    else:
        yield prism(region, deep, z - up * OVER)


def groove(plate, feature):
    z = plate["z_low"] if feature["face"] == "low" else plate["z_high"]
    r = feature["radius"]
    path = feature["path"]
    for v in path:
        yield BRepPrimAPI_MakeSphere(gp_Pnt(*v["at"], z), r).Shape()
    for x0, y0, x1, y1, bulge in segments(path, closed=False):
        if bulge == 0:
            ax = gp_Ax2(gp_Pnt(x0, y0, z), gp_Dir(x1 - x0, y1 - y0, 0))
            yield BRepPrimAPI_MakeCylinder(ax, r, math.hypot(x1 - x0, y1 - y0)).Shape()
        else:
            (ox, oy), big, _ = arc(x0, y0, x1, y1, bulge)
            sx, sy = (x0, y0) if bulge > 0 else (x1, y1)
            ax = gp_Ax2(gp_Pnt(ox, oy, z), gp_Dir(0, 0, 1), gp_Dir(sx - ox, sy - oy, 0))
            yield BRepPrimAPI_MakeTorus(ax, big, r, 4 * math.atan(abs(bulge))).Shape()


def turned(at, profile):
    """A profile of radii and heights turned about a line parallel to z."""
    x, y = at
    make = BRepBuilderAPI_MakeWire()
    points = [(p["across"], p["z"]) for p in profile]

    def edge(a, b):
        if math.dist(a, b) > 1e-9:
            ends = [gp_Pnt(x + r, y, z) for r, z in (a, b)]
            make.Add(BRepBuilderAPI_MakeEdge(*ends).Edge())

    edge((0, points[0][1]), points[0])
    for a, b, p in zip(points, points[1:], profile):
        if p["bulge"] == 0:
            edge(a, b)
        else:
            _, _, (mr, mz) = arc(*a, *b, p["bulge"])
            curve = GC_MakeArcOfCircle(
                gp_Pnt(x + a[0], y, a[1]), gp_Pnt(x + mr, y, mz), gp_Pnt(x + b[0], y, b[1])
            ).Value()
            make.Add(BRepBuilderAPI_MakeEdge(curve).Edge())
    edge(points[-1], (0, points[-1][1]))
    edge((0, points[-1][1]), (0, points[0][1]))
    face = BRepBuilderAPI_MakeFace(make.Wire()).Face()
    axis = gp_Ax1(gp_Pnt(x, y, 0), gp_Dir(0, 0, 1))
    return BRepPrimAPI_MakeRevol(face, axis).Shape()


def revolved(at, section):
    """A closed section of (radius, height) turned about a line parallel to z."""
    x, y = at
    make = BRepBuilderAPI_MakeWire()
    for x0, y0, x1, y1, bulge in segments(section):
        a, b = gp_Pnt(x + x0, y, y0), gp_Pnt(x + x1, y, y1)
        if bulge == 0:
            make.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
        else:
            _, _, (mr, mz) = arc(x0, y0, x1, y1, bulge)
            curve = GC_MakeArcOfCircle(a, gp_Pnt(x + mr, y, mz), b).Value()
            make.Add(BRepBuilderAPI_MakeEdge(curve).Edge())
    face = BRepBuilderAPI_MakeFace(make.Wire()).Face()
    return BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(x, y, 0), gp_Dir(0, 0, 1))).Shape()


def form(f):
    """The shapes whose union is the body."""
    if f["form"] == "revolved":
        return [revolved(f["at"], f["section"])]
    if f["form"] == "turned":
        return [turned(f["at"], f["profile"])]
    if f["form"] != "prism":
        unbuildable(f["form"])
    outer, profile = f["region"]["outer"], f["profile"]
    out = walls(outer, profile)
    # A hole runs clockwise: its left side, towards which it moves, is the body as well.
    for hole in f["region"].get("holes", []):
        out = [cut(shape, walls(hole, profile)) for shape in out]
    return out


def walls(contour, profile):
    """What the contour encloses while it moves inward along the profile."""
    if is_circle(contour):
        at, r = circle_of(contour)
        # Inward is towards the axis, of a hole away from it: mirror the profile or not.
        sign = 1 if contour_area(contour) > 0 else -1
        points = [
            {"across": r - sign * p["across"], "z": p["z"], "bulge": -sign * p["bulge"]}
            for p in profile
        ]
        return [turned(at, points)]
    out = []
    for a, b in zip(profile, profile[1:]):
        if b["z"] <= a["z"]:
            continue
        if a["bulge"]:
            out += rounded(contour, a, b)
        else:
            out.append(frustum(contour, a["across"], a["z"], b["across"], b["z"]))
    return out


def contour_area(vertices):
    """Signed: counter-clockwise is positive."""
    total = 0.0
    for x0, y0, x1, y1, bulge in segments(vertices):
        total += 0.5 * (x0 * y1 - x1 * y0)
        if bulge:
            sweep = 4 * math.atan(bulge)
            r = 0.25 * math.hypot(x1 - x0, y1 - y0) * abs(bulge + 1 / bulge)
            total += 0.5 * r * r * (sweep - math.sin(sweep))
    return total


def rounded(contour, a, b):
    """A band whose wall is a circular arc: a core, and along each piece of the contour
    the arc's own section pushed along the line or turned about the arc's centre."""
    if contour_area(contour) <= 0:
        unbuildable("a rounded edge around a hole")
    _, _, (mid_across, mid_z) = arc(a["across"], a["z"], b["across"], b["z"], a["bulge"])
    deep = max(a["across"], b["across"], mid_across)
    if deep > max(a["across"], b["across"]) + 1e-9:
        unbuildable("an arc that reaches inward beyond its ends")
    # The sections go on into the core, so that bodies overlap rather than touch.
    inner = deep + 0.02
    core = inward(contour, deep)
    if contour_area(core) <= 0:
        unbuildable("a contour that vanishes")
    out = [prism({"outer": core}, a["z"], b["z"])]
    ends = inward(contour, inner)
    for (x0, y0, x1, y1, bulge), p, q in zip(
        segments(contour), ends, ends[1:] + ends[:1], strict=True
    ):
        if bulge == 0:
            length = math.hypot(x1 - x0, y1 - y0)
            ux, uy = (x1 - x0) / length, (y1 - y0) / length
            over = 2 * inner + 1
            at = (x0 - ux * over, y0 - uy * over)
            face = section(at, (-uy, ux), a, b, (mid_across, mid_z), inner)
            bar = BRepPrimAPI_MakePrism(face, gp_Vec(*(v * (length + 2 * over) for v in (ux, uy)), 0))
            # Between the mitres of its two corners.
            plan = [{"at": [x, y], "bulge": 0} for x, y in ((x0, y0), (x1, y1), q["at"], p["at"])]
            out.append(common(bar.Shape(), prism({"outer": plan}, a["z"] - 1, b["z"] + 1)))
        else:
            (ox, oy), big, _ = arc(x0, y0, x1, y1, bulge)
            if bulge > 0 and big <= inner:
                unbuildable("an arc smaller than the rounding")
            sign = 1 if bulge > 0 else -1
            toward = (sign * (ox - x0) / big, sign * (oy - y0) / big)
            face = section((x0, y0), toward, a, b, (mid_across, mid_z), inner)
            axis = gp_Ax1(gp_Pnt(ox, oy, 0), gp_Dir(0, 0, sign))
            out.append(BRepPrimAPI_MakeRevol(face, axis, 4 * math.atan(abs(bulge))).Shape())
    return out


def section(at, toward, a, b, middle, inner):
    """The face between a rounded wall and `inner`, upright at a point of the contour."""

    def point(across, z):
        return gp_Pnt(at[0] + toward[0] * across, at[1] + toward[1] * across, z)

    low, high = point(a["across"], a["z"]), point(b["across"], b["z"])
    far_high, far_low = point(inner, b["z"]), point(inner, a["z"])
    make = BRepBuilderAPI_MakeWire()
    make.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(low, point(*middle), high).Value()).Edge())
    for p, q in ((high, far_high), (far_high, far_low), (far_low, low)):
        make.Add(BRepBuilderAPI_MakeEdge(p, q).Edge())
    return BRepBuilderAPI_MakeFace(make.Wire()).Face()


def cavity(plate, feature):
    """Bodies in order; the plate itself ends at the parting plane."""
    tool = []
    for role, body in feature["bodies"]:
        shapes = form(body)
        if role == "add":
            tool = tool + shapes
        else:
            tool = [cut(t, shapes) for t in tool]
    yield from tool


def outside(plate, feature):
    """What a lathe takes off around an end: of each step a ring less the step's own body."""
    wide = max(math.hypot(*v["at"]) for v in plate["outline"]["outer"]) + OVER
    high = feature["face"] == "high"
    face, inward = (plate["z_high"], -1) if high else (plate["z_low"], 1)
    depth = 0.0
    for i, s in enumerate(feature["steps"]):
        r0, r1, long = s["start"] / 2, s["end"] / 2, s["length"]
        first, last = face + inward * depth, face + inward * (depth + long)
        if s["step"] == "crown":
            # The chamfer of the corners runs on outside of the bar.
            far = long * (wide - r0) / (r1 - r0)
            r1, last = wide, face + inward * (depth + far)
        begin = first - inward * OVER if i == 0 else first
        ring = cone(0, 0, wide + OVER, begin, wide + OVER, last)
        if s["step"] == "nose":
            at = gp_Ax2(gp_Pnt(0, 0, last), gp_Dir(0, 0, 1))
            ball = BRepPrimAPI_MakeSphere(at, s["radius"]).Shape()
            inner = [common(ball, cone(0, 0, wide, first, wide, last))]
        else:
            inner = [cone(0, 0, r0, first, r1, last)]
        if i == 0:
            inner.append(cone(0, 0, r0, first, r0, begin))
        yield cut(ring, inner)
        depth += long


def no_cut(plate, feature):
    """A core stands on the plate and cuts nothing."""
    return []


BUILD = {"hole": hole, "pocket": pocket, "groove": groove, "cavity": cavity, "core": no_cut,
         "outside": outside}


def fuse(a, b):
    op = BRepAlgoAPI_Fuse(a, b)
    assert op.IsDone()
    return op.Shape()


def common(a, b):
    op = BRepAlgoAPI_Common(a, b)
    assert op.IsDone()
    return op.Shape()


def cut(body, tools):
    base, knives = List_TopoDS_Shape(), List_TopoDS_Shape()
    base.Append(body)
    for t in tools:
        knives.Append(t)
    op = BRepAlgoAPI_Cut()
    op.SetArguments(base)
    op.SetTools(knives)
    op.Build()
    assert op.IsDone()
    return op.Shape()


def tools(plate):
    return [t for f in plate["features"] for t in BUILD[f["shape"]](plate, f)]


def can_build(plate):
    try:
        tools(plate)
        return True
    except NotImplementedError:
        return False


def plate(plate):
    """The plate by the kernel's boolean, or None when a feature cannot be built here."""
    try:
        knives = tools(plate)
        cores = [m for f in plate["features"] if f["shape"] == "core" for m in cavity(plate, f)]
    except NotImplementedError:
        return None
    # One tool at a time: a cut with many overlapping tools at once loses some of them.
    body = prism(plate["outline"], plate["z_low"], plate["z_high"])
    for knife in knives:
        body = cut(body, [knife])
    for metal in cores:
        body = fuse(body, metal)
    return body


def chords(vertices):
    """Points along a contour."""
    for x0, y0, x1, y1, bulge in segments(vertices):
        yield x0, y0
        if bulge:
            (ox, oy), _, _ = arc(x0, y0, x1, y1, bulge)
            for k in range(1, 200):
                t = 4 * math.atan(bulge) * k / 200
                c, s = math.cos(t), math.sin(t)
                yield ox + c * (x0 - ox) - s * (y0 - oy), oy + s * (x0 - ox) + c * (y0 - oy)


# ---- which cylinders a hole must leave ------------------------------------


def box(f):
    """Rectangle around a feature in the plane."""
    if f["shape"] == "hole":
        r = max(s.get("dia", s.get("dia_face", 0)) for s in f["steps"]) / 2
        (x, y) = f["at"]
        return x - r, y - r, x + r, y + r
    if f["shape"] == "outside":
        return -math.inf, -math.inf, math.inf, math.inf
    points = []

    def collect(o):
        if isinstance(o, dict):
            if "at" in o and "bulge" in o:
                points.append(o["at"])
            for v in o.values():
                collect(v)
        elif isinstance(o, list):
            for v in o:
                collect(v)

    collect({k: v for k, v in f.items() if k != "at"})
    if any(body["form"] == "mesh" for _, body in f.get("bodies", [])):
        # Its triangles do not stand in design.json: anywhere.
        return -math.inf, -math.inf, math.inf, math.inf
    if f["shape"] == "cavity" and not points:
        points = [f["at"]]
    # Arcs bulge by at most half the diagonal.
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    grow = math.hypot(max(xs) - min(xs), max(ys) - min(ys)) / 2 + f.get("radius", 0)
    return min(xs) - grow, min(ys) - grow, max(xs) + grow, max(ys) + grow


def alone(plate):
    """Holes inside the outline whose surroundings no other feature touches."""
    outline = Polygon(chords(plate["outline"]["outer"]))
    boxes = [box(f) for f in plate["features"]]
    for i, f in enumerate(plate["features"]):
        a = boxes[i]
        clear = all(
            i == j or a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]
            for j, b in enumerate(boxes)
        )
        if f["shape"] == "hole" and clear:
            radius = max(s.get("dia", s.get("dia_face", 0)) for s in f["steps"]) / 2
            if outline.contains(Point(f["at"]).buffer(radius + 0.01)):
                yield f


def cylinders(plate, feature):
    """Diameters of the cylinders left, by looking at the widest step at 4 000 depths."""
    t = plate["z_high"] - plate["z_low"]
    all_steps = steps(plate, feature)
    left = set()
    for i in range(4000):
        z = (i + 0.5) * t / 4000
        here = [
            (r0 + (r1 - r0) * (z - d0) / (d1 - d0), r0 == r1)
            for d0, r0, d1, r1 in all_steps
            if d0 <= z <= d1
        ]
        if here:
            r, straight = max(here)
            if straight:
                left.add(round(2 * r, 9))
    return sorted(left)
