"""A second way to read programs and to carry them out: words by the parser pygcode, exact bodies by
manifold3d. It shares nothing with the program that wrote them; which tool an operation takes is
read in motions.json, by the number that each piece of a program begins with."""
import itertools
import math
import re

import manifold3d as m3
import pygcode
import shapely

import removal

# Circles as chords on either side of them, mm; balls and arcs of theirs as pieces of a turn.
CHORD = 0.001
BALL = 96
# A ramp so near the lap after it is cut again by that, mm.
ON = 0.01


class Fault(Exception):
    pass


def moves(text):
    """(operation, tool, fast, from, to, arc) of each move, mm; arc: none, or centre and angle of its turn."""
    at = [None, None, None]
    scale = feed = speed = motion = operation = retract = peck = bottom = None
    number = None
    turning = ended = False
    out = []

    def go(to, fast, arc=None):
        nonlocal at
        if not fast and not (turning and feed):
            raise Fault("feed without spindle or feed")
        if None not in at and None not in to:
            out.append((operation, number, fast, tuple(at), tuple(to), arc))
        elif not fast:
            raise Fault("feed from nowhere")
        at = list(to)

    for line, raw in enumerate(text.splitlines(), 1):
        comment = re.fullmatch(r"\((\d+): .*", raw)
        if comment:
            operation = int(comment[1])
        words = [(w.letter, float(w.value)) for w in pygcode.Line(raw).block.words]
        words = [(c, v) for c, v in words if c != "N"]
        if not words:
            continue
        if ended:
            raise Fault(f"line {line}: after the end")
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
                    raise Fault(f"line {line}: G{v:g}")
        feed = of["F"] * scale if "F" in of else feed
        speed = of.get("S", speed)
        number = int(of.get("T", number or 0))
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
                raise Fault(f"line {line}: radii {r} and {r1}")
            start, end = math.atan2(y0 - c[1], x0 - c[0]), math.atan2(y1 - c[1], x1 - c[0])
            turn = (end - start) % math.tau if motion == 3 else -((start - end) % math.tau)
            go(to, False, (c, turn))
        elif motion in (81, 83, 85):
            retract, peck = of.get("R", retract), of.get("Q", peck)
            bottom = of.get("Z", bottom)
            x, y, high = to[0], to[1], at[2]
            go([x, y, high], True)
            go([x, y, retract * scale], True)
            go([x, y, bottom * scale], False)
            go([x, y, high], True)
        else:
            raise Fault(f"line {line}: a move without its word")
    if not ended or turning:
        raise Fault("no end, or the spindle turns on")
    return out


def diameters(text):
    """Diameters of the tools as the head of a program tells them, by their numbers, mm."""
    head = text.replace(")\n(", " ").replace("(T", "\nT").replace(" T", "\nT")
    found = re.findall(r"^T(\d+): .*?, D ([\d.]+) (mm|in)\b", head, flags=re.M)
    return {int(n): float(d) * (25.4 if unit == "in" else 1.0) for n, d, unit in found}


def tool(operation, dia):
    """(kind, what): a flat end's or a ball's radius, or (radius, height over the tip)."""
    motions = operation["motions"]
    if motions[0]["motion"] in ("clear", "ball"):
        return motions[0]["motion"], motions[0]["radius"]
    shape = max((m["shape"] for m in motions), key=lambda s: s[-1][0])
    if shape[-1][0] > dia / 2 + 0.01:
        # A cutter that is led around the axis.
        return "clear", dia / 2
    deepest = max(d for _, d in shape)
    return "axis", [(r, deepest - d) for r, d in shape]


def below(profile, height):
    """The part of a tool's profile up to a height over its tip."""
    out = [p for p in profile if p[1] <= height]
    over = [p for p in profile if p[1] > height]
    if out and over:
        (r0, h0), (r1, h1) = out[-1], over[0]
        out.append((r0 + (r1 - r0) * (height - h0) / (h1 - h0), height))
    return out


def circle(centre, r, start=0.0, turn=math.tau):
    """Points of an arc whose chords lie as far outside the circle as inside."""
    n = max(2, math.ceil(abs(turn) / (2 * math.acos(1 - min(2 * CHORD / max(r, CHORD), 0.5)))))
    r += CHORD
    t = [start + turn * k / n for k in range(n if abs(turn) == math.tau else n + 1)]
    return [(centre[0] + r * math.cos(a), centre[1] + r * math.sin(a)) for a in t]


def swept(a, b, arc, r):
    """What a disc covers between its places at the ends of a move: one ring, counter-clockwise."""
    if arc is None:
        dx, dy = b[0] - a[0], b[1] - a[1]
        long = math.hypot(dx, dy)
        if long < 1e-9:
            return []
        x, y = -dy / long * r, dx / long * r
        return [(a[0] - x, a[1] - y), (b[0] - x, b[1] - y), (b[0] + x, b[1] + y), (a[0] + x, a[1] + y)]
    c, turn = arc
    radius, start = math.dist(a, c), math.atan2(a[1] - c[1], a[0] - c[0])
    if turn < 0:
        start, turn = start + turn, -turn
    # Within its turn a place is as far from the arc as its radius says: a pie where the disc
    # reaches over the centre.
    turn = min(turn, math.tau - 1e-9)
    inner = circle(c, radius - r - 2 * CHORD, start, turn)[::-1] if radius > r + 3 * CHORD else [c]
    return circle(c, radius + r, start, turn) + inner


def chords(a, b, arc):
    """Places along a move."""
    if arc is None:
        return [a, b]
    (x, y), turn = arc
    r, start = math.dist(a[:2], (x, y)), math.atan2(a[1] - y, a[0] - x)
    n = max(1, math.ceil(abs(turn) / (2 * math.acos(1 - min(2 * CHORD / r, 0.5)))))
    mid = [start + turn * k / n for k in range(1, n)]
    return [a, *((x + r * math.cos(t), y + r * math.sin(t), a[2]) for t in mid), b]


def without_ramps(cuts):
    """Moves that cut, without those that fall along the lap that follows them as deep."""
    out, fall = [], []
    for k, move in enumerate(cuts):
        _, a, b, _ = move
        if a[2] > b[2] and a[:2] != b[:2]:
            fall.append(move)
            continue
        if fall:
            lap = itertools.takewhile(lambda m: m[1][2] == m[2][2], cuts[k:])
            way = [p[:2] for _, p, q, arc in lap for p in chords(p, q, arc)]
            places = shapely.points([v for _, p, q, _ in fall for v in (p[:2], q[:2], middle(p, q))])
            near = way and b[2] <= fall[-1][2][2] and shapely.distance(shapely.LineString(way), places).max() <= ON
            out += [] if near else fall
            fall = []
        out.append(move)
    return out + fall


def middle(p, q):
    return (p[0] + q[0]) / 2, (p[1] + q[1]) / 2


def carried_out(plate, texts, datum):
    """The work piece after the programs (by set-up: list of texts) and all that is done by hand."""
    stock = plate["stock"]
    (x0, y0), (x1, y1), low, high = stock["from"], stock["to"], stock["low"], stock["high"]
    over = shapely.box(x0, y0, x1, y1)
    piece = removal.prism(over, low + removal.SET_BACK, high - removal.SET_BACK)
    gone, left, done = [], [], set()
    for setup, programs in texts.items():
        own = {o["number"]: o for o in plate["operations"] if o["setup"] == setup}
        last = [*own.values()][-1]
        upper, face = last["face"] == "upper", last["from"]
        sign = 1 if upper else -1
        to_face = high + removal.BEYOND if upper else low - removal.BEYOND

        def mold(v):
            return datum[0] + sign * v[0], datum[1] + v[1], face + sign * v[2]

        flats, balls, points = {}, {}, {}
        for text in programs:
            dia = diameters(text)
            all_moves = [m for m in moves(text) if not m[2]]
            done |= {m[0] for m in all_moves}
            tools = {n: tool(own[n], dia[t]) for n, t in {m[:2] for m in all_moves}}
            cuts = [(n, a, b, arc) for n, _, _, a, b, arc in all_moves]
            for n, a, b, arc in without_ramps(cuts):
                kind, shape = tools[n]
                if kind == "axis":
                    # At its deepest.
                    key = b[:2], tuple(shape)
                    points[key] = min(points.get(key, math.inf), b[2])
                    continue
                # A ramp that is kept, at its higher end.
                p, q = mold(a), mold(b)
                turn = arc and (mold((*arc[0], 0))[:2], sign * arc[1])
                key = p[:2], q[:2], turn
                of = (flats if kind == "clear" else balls).setdefault(shape, {})
                deep = max(a[2], b[2]) if p[:2] != q[:2] else b[2]
                of[key] = min(of.get(key, math.inf), deep)
        prisms = []
        for r, ways in flats.items():
            prisms += [(deep, r, way) for way, deep in ways.items()]
        for r, ways in balls.items():
            ball = m3.Manifold.sphere(r, BALL)
            for (p, q, arc), tip in ways.items():
                z = face + sign * (tip + r)
                ends = [ball.translate((*e[:2], z)) for e in chords((*p, 0), (*q, 0), arc)]
                gone += [m3.Manifold.batch_hull(list(pair)) for pair in zip(ends, ends[1:])]
                prisms.append((tip + r, r, (p, q, arc)))
        for deep, some in itertools.groupby(sorted(prisms, key=lambda p: p[0]), lambda p: p[0]):
            rings, discs = [], set()
            for _, r, (p, q, arc) in some:
                rings.append(swept(p, q, arc, r))
                discs |= {(p, r), (q, r)}
            rings = [r for r in rings if r] + [circle(p, r) for p, r in discs]
            z0, z1 = sorted((face + sign * deep, to_face))
            if z1 > z0:
                section = m3.CrossSection(rings, m3.FillRule.NonZero)
                gone.append(section.extrude(z1 - z0).translate((0, 0, z0)))
        for (at, shape), tip in points.items():
            x, y, z = mold((*at, tip))
            profile = removal.simplified([(r, z + sign * h) for r, h in below(shape, sign * (to_face - z))])
            ring = [*profile, (profile[-1][0], to_face), (profile[0][0], to_face)]
            if not upper:
                ring.reverse()
            gone.append(removal.turned((x, y), removal.simplified(ring)))
    for o in plate["operations"]:
        upper = o["face"] == "upper"
        if o["number"] not in done:
            gone += [removal.body(m, upper, o["from"], low, high, over) for m in o["motions"]]
        left += [(removal.polygon(l["area"]).buffer(0.02), l["height"]) for l in o["leaves"]]
    gone = m3.Manifold.batch_boolean([g for g in gone if not g.is_empty()], m3.OpType.Add)
    areas = shapely.union_all([a for a, _ in left])
    return piece - gone, removal.prism(areas, low - removal.BEYOND, high + removal.BEYOND)
