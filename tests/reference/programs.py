"""A second way to read programs and to carry them out: words by the parser pygcode, exact bodies by
manifold3d. It shares nothing with the program that wrote them; which tool an operation takes is
read in motions.json, by the number that each piece of a program begins with."""
import math
import re

import manifold3d as m3
import pygcode

import removal

# Pieces of a circle; arcs as chords so far from them, mm.
ROUND = 4 * removal.QUARTER
CHORD = 0.0005
# A ramp's steps are taken as ending so little higher, mm: what is left is cut by the lap after it.
RAMP = 0.05


class Fault(Exception):
    pass


def moves(text):
    """(operation, fast, from, to) of each straight move, mm; arcs as chords."""
    at = [None, None, None]
    scale = feed = speed = motion = operation = retract = peck = bottom = None
    turning = ended = False
    out = []

    def go(to, fast):
        nonlocal at
        if not fast and not (turning and feed):
            raise Fault("feed without spindle or feed")
        if None not in at and None not in to:
            out.append((operation, fast, tuple(at), tuple(to)))
        elif not fast:
            raise Fault("feed from nowhere")
        at = list(to)

    for number, raw in enumerate(text.splitlines(), 1):
        comment = re.fullmatch(r"\((\d+): .*", raw)
        if comment:
            operation = int(comment[1])
        words = [(w.letter, float(w.value)) for w in pygcode.Line(raw).block.words]
        words = [(c, v) for c, v in words if c != "N"]
        if not words:
            continue
        if ended:
            raise Fault(f"line {number}: after the end")
        of = {c: v for c, v in words if c not in "GM"}
        for c, v in words:
            if c == "G":
                if v in (0, 1, 2, 3, 81, 83, 85):
                    motion = int(v)
                elif v == 80:
                    motion = None
                elif v in (20, 70):
                    scale = 25.4
                elif v in (21, 71):
                    scale = 1.0
                elif v not in (17, 40, 43, 90, 94):
                    raise Fault(f"line {number}: G{v:g}")
        feed = of["F"] * scale if "F" in of else feed
        speed = of.get("S", speed)
        for c, v in words:
            if c == "M":
                turning = turning if v not in (3, 5) else v == 3 and speed > 0
                ended = ended or v in (2, 30)
        if not {"X", "Y", "Z"} & set(of):
            continue
        to = [of[c] * scale if c in of else at[i] for i, c in enumerate("XYZ")]
        if motion in (0, 1):
            go(to, motion == 0)
        elif motion in (2, 3):
            (x0, y0, z), (x1, y1, _) = at, to
            if "R" in of:
                r, half = of["R"] * scale, math.dist((x0, y0), (x1, y1)) / 2
                up = math.sqrt(max(r * r - half * half, 0)) / half
                side = -1 if motion == 2 else 1
                c = ((x0 + x1) / 2 - side * up * (y1 - y0) / 2, (y0 + y1) / 2 + side * up * (x1 - x0) / 2)
            else:
                c = (x0 + of["I"] * scale, y0 + of["J"] * scale)
            r, r1 = math.dist(c, (x0, y0)), math.dist(c, (x1, y1))
            if abs(r - r1) > 1e-3:
                raise Fault(f"line {number}: radii {r} and {r1}")
            start, end = math.atan2(y0 - c[1], x0 - c[0]), math.atan2(y1 - c[1], x1 - c[0])
            turn = (end - start) % math.tau if motion == 3 else -((start - end) % math.tau)
            n = max(1, math.ceil(abs(turn) / (2 * math.acos(1 - min(CHORD / r, 0.5)))))
            for k in range(1, n):
                a = start + turn * k / n
                go([c[0] + r * math.cos(a), c[1] + r * math.sin(a), z], False)
            go(to, False)
        elif motion in (81, 83, 85):
            retract, peck = of.get("R", retract), of.get("Q", peck)
            bottom = of.get("Z", bottom)
            x, y, high = to[0], to[1], at[2]
            go([x, y, high], True)
            go([x, y, retract * scale], True)
            go([x, y, bottom * scale], False)
            go([x, y, high], True)
        else:
            raise Fault(f"line {number}: a move without its word")
    if not ended or turning:
        raise Fault("no end, or the spindle turns on")
    return out


def tool(operation, face):
    """(kind, what): a flat end's or a ball's radius, or (radius, height over the tip)."""
    motions = operation["motions"]
    if motions[0]["motion"] in ("clear", "ball"):
        return motions[0]["motion"], motions[0]["radius"]
    shapes = [m["shape"] for m in motions]
    shape = max(shapes, key=lambda s: s[-1][0])
    deepest = max(d for _, d in shape)
    return "axis", [(r, deepest - d) for r, d in shape]


def capsule(a, b, r):
    """A disc of chords around its circle's middle way, along a line."""
    disc = [(r * math.cos(k * math.tau / ROUND), r * math.sin(k * math.tau / ROUND)) for k in range(ROUND)]
    if a == b:
        return [(a[0] + x, a[1] + y) for x, y in disc]
    dx, dy = b[0] - a[0], b[1] - a[1]
    ring = []
    # Counter-clockwise: the half of the disc ahead around b, the half behind around a.
    first = math.atan2(dy, dx) - math.pi / 2
    for centre, start in ((b, first), (a, first + math.pi)):
        for k in range(ROUND // 2 + 1):
            t = start + k * math.tau / ROUND
            ring.append((centre[0] + r * math.cos(t), centre[1] + r * math.sin(t)))
    return ring


def carried_out(plate, texts, datum):
    """The work piece after the programs (by set-up: list of texts) and all that is done by hand;
    moves that are fast in metal are counted."""
    stock = plate["stock"]
    (x0, y0), (x1, y1), low, high = stock["from"], stock["to"], stock["low"], stock["high"]
    over = removal.shapely.box(x0, y0, x1, y1)
    piece = removal.prism(over, low + removal.SET_BACK, high - removal.SET_BACK)
    gone, left, done = [], [], set()
    for setup, programs in texts.items():
        own = [o for o in plate["operations"] if o["setup"] == setup]
        upper, face = own[-1]["face"] == "upper", own[-1]["from"]
        sign = 1 if upper else -1
        to_face = high + removal.BEYOND if upper else low - removal.BEYOND
        flats = {}
        for text in programs:
            for number, fast, a, b in moves(text):
                if fast:
                    continue
                done.add(number)
                (operation,) = [o for o in own if o["number"] == number]
                kind, shape = tool(operation, face)
                p, q = [(datum[0] + sign * v[0], datum[1] + v[1], face + sign * v[2]) for v in (a, b)]
                if kind == "clear":
                    deep = min(a[2], b[2])
                    if abs(a[2] - b[2]) > 1e-9 and a[:2] != b[:2]:
                        deep = math.ceil(deep / RAMP) * RAMP
                    flats.setdefault((shape, round(deep, 5)), []).append(capsule(p[:2], q[:2], shape))
                elif kind == "ball":
                    ball = m3.Manifold.sphere(shape, 128)
                    if abs(a[2] - b[2]) > 1e-9:
                        continue
                    ends = [ball.translate((e[0], e[1], e[2] + sign * shape)) for e in (p, q)]
                    gone.append(m3.Manifold.batch_hull(ends))
                    flats.setdefault((shape, round(a[2] + shape, 5)), []).append(capsule(p[:2], q[:2], shape))
                elif a[2] >= b[2]:
                    points = removal.simplified([(r, q[2] + sign * h) for r, h in shape])
                    ring = [*points, (points[-1][0], to_face), (points[0][0], to_face)]
                    if (points[-1][1] - to_face) * sign > 0:
                        raise Fault("a profile beyond the face")
                    if not upper:
                        ring.reverse()
                    gone.append(removal.turned(q[:2], removal.simplified(ring)))
        for (_, deep), rings in flats.items():
            section = m3.CrossSection(rings, m3.FillRule.NonZero)
            z0, z1 = sorted((face + sign * deep, to_face))
            if z1 > z0:
                gone.append(section.extrude(z1 - z0).translate((0, 0, z0)))
    for o in plate["operations"]:
        upper = o["face"] == "upper"
        if o["number"] not in done:
            gone += [removal.body(m, upper, o["from"], low, high, over) for m in o["motions"]]
        left += [(removal.polygon(l["area"]).buffer(0.02), l["height"]) for l in o["leaves"]]
    gone = m3.Manifold.batch_boolean([g for g in gone if not g.is_empty()], m3.OpType.Add)
    areas = removal.shapely.union_all([a for a, _ in left])
    return piece - gone, removal.prism(areas, low - removal.BEYOND, high + removal.BEYOND)
