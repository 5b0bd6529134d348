"""A plate made from its drawing alone: reads drawings.pdf, builds exact bodies by manifold3d.

Input: pages of the PDF file, nothing else. Output: `Piece`s: name, stock, finished body; in the
coordinates of the drawing: X and Y of the plan, z = 0 on the face that the plan shows, the
metal below it. What a drawing leaves to the cut file (letters, traced outlines) and what it
gives as a free shape raises `Elsewhere`. No checks here.
"""
import dataclasses
import math
import re

import manifold3d as m3
import numpy as np
from printed import MM, lines_of_text

NUMBER = r"-?\d+(?:\.\d+)?"
# A length in inches always has three or four decimals, and nothing else on a drawing has.
INCHES = re.compile(r"-?\d+\.\d{3,4}(?![\d°])")
# Straight pieces lie this close to their circle, mm.
SAG = 0.002
FAR = 500.0


class Elsewhere(Exception):
    """The drawing names a file for this shape."""


@dataclasses.dataclass
class Sheet:
    """What one page says."""

    title: dict
    rows: list
    runs: list
    lines: list


@dataclasses.dataclass
class Piece:
    name: str
    stock: m3.Manifold
    body: m3.Manifold


# --- reading -----------------------------------------------------------------------


def inside(box, rect):
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return rect[0] <= x <= rect[2] and rect[1] <= y <= rect[3]


def read(page, as_written=False):
    """The title block by its labels, the rows of the lists, and what else is written and ruled; lengths
    in mm, unless they are wanted as they are written."""
    rects = [[r[k] * MM for k in ("x0", "top", "x1", "bottom")] for r in page.rects]
    lines = [[r[k] * MM for k in ("x0", "top", "x1", "bottom")] for r in page.lines]
    runs = lines_of_text(page)
    block = next(r for r in rects if abs(r[2] - r[0] - 180) < 0.1 and abs(r[3] - r[1] - 42) < 0.1)
    title = title_block(block, [r for r in runs if inside(r["box"], block)], lines)
    runs = [r for r in runs if not inside(r["box"], block)]
    rows, used = [], []
    for head in [r for r in runs if r["text"] == "tag"]:
        top = next(r for r in rects if inside(head["box"], r) and 4 < r[3] - r[1] < 7)
        rows += list_rows(top, rects, lines, runs, used)
    runs = [r for r in runs if not any(inside(r["box"], u) for u in used)]
    if title["general tolerances"].endswith(" in") and not as_written:
        title = {k: metric(v) for k, v in title.items()}
        rows = [[metric(c) for c in cells] for cells in rows]
        runs = [{**r, "text": metric(r["text"])} for r in runs]
    return Sheet(title, rows, runs, lines)


def metric(text):
    """The same words with lengths in mm: 25.4 to the inch, by definition."""
    return INCHES.sub(lambda m: f"{float(m[0]) * 25.4:.6f}", text)


def title_block(block, runs, lines):
    """Values by label: both start in one cell, the label above."""
    out = {}
    high = (block[3] - block[1]) / 4
    for r in runs:
        row = int((r["box"][1] - block[1]) / high)
        top = block[1] + row * high
        if r["box"][1] - top > 4.0 - 1e-6:
            continue
        ends = [x[0] for x in lines if abs(x[0] - x[2]) < 0.01 and x[0] > r["box"][0]
                and x[1] < top + 0.5 * high < x[3]]
        right = min(ends, default=block[2])
        values = [v for v in runs if v is not r and r["box"][0] - 1 < v["box"][0] < right
                  and top + 3.5 < v["box"][1] < top + high]
        out[r["text"]] = " ".join(v["text"] for v in values)
    return out


def list_rows(head, rects, lines, runs, used):
    """Rows below a heading: texts of the cells, or one text where nothing divides it."""
    used.append(head)
    out, y = [], head[3]
    while True:
        row = next((r for r in rects if abs(r[0] - head[0]) < 0.05 and abs(r[2] - head[2]) < 0.05
                    and abs(r[1] - y) < 0.05 and r[3] - r[1] > 3), None)
        if row is None:
            return out
        used.append(row)
        y = row[3]
        rules = sorted({round(x[0], 2) for x in lines if abs(x[0] - x[2]) < 0.01
                        and row[0] + 1 < x[0] < row[2] - 1
                        and x[1] < row[1] + 0.2 and x[3] > row[3] - 0.2})
        edges = [row[0], *rules, row[2]]
        cells = []
        for a, b in zip(edges, edges[1:]):
            held = [r for r in runs if inside(r["box"], [a, row[1], b, row[3]])]
            held.sort(key=lambda r: (round(r["box"][1], 1), r["box"][0]))
            cells.append(" ".join(r["text"].strip() for r in held))
        out.append(cells)


def dimensions(sheet, upright):
    """Numbers that stand on a dimension line: value, whether a diameter, and the line."""
    scale = ratio(sheet.title["scale"])
    out = []
    for r in sheet.runs:
        found = re.fullmatch(rf"(ø?)({NUMBER})", r["text"].strip())
        if not found or r["upright"] == upright:
            continue
        value = float(found[2])
        x0, y0, x1, y1 = r["box"]
        for a, b, c, d in sheet.lines:
            if upright:
                near = abs(a - c) < 0.01 and -0.5 < a - x1 < 2.6 and abs((b + d - y0 - y1) / 2) < 0.6 * abs(d - b) + 12
                length = abs(d - b)
            else:
                near = abs(b - d) < 0.01 and -0.5 < b - y1 + 0.25 * (y1 - y0) < 2.6 and abs((a + c - x0 - x1) / 2) < 0.6 * abs(c - a) + 12
                length = abs(c - a)
            # The line itself, or with its arrows outside.
            if near and (abs(length - value * scale) < 0.05 or abs(length - 12 - value * scale) < 0.05):
                out.append((value, found[1] == "ø", [a, b, c, d]))
                break
    return out


def ratio(text):
    a, b = text.split(":")
    return float(a) / float(b)


# --- shapes ------------------------------------------------------------------------


def pieces(radius):
    return 4 * max(8, math.ceil(math.pi / 4 / math.acos(1 - min(0.5, SAG / max(radius, 1e-6)))))


def disc(dia):
    return m3.CrossSection.circle(dia / 2, pieces(dia / 2))


def box(length, width, radius=0.0):
    if radius <= 0:
        return m3.CrossSection.square((length, width), True)
    inner = m3.CrossSection.square((length - 2 * radius + 1e-9, width - 2 * radius + 1e-9), True)
    return inner.offset(radius, m3.JoinType.Round, 2.0, pieces(radius))


def arc(a, b, radius):
    """Points after `a` to `b`: an arc about a centre at the left (`radius` > 0) or the right."""
    chord = math.dist(a, b)
    if chord == 0:
        # Shorter than the last printed place.
        return []
    r = abs(radius)
    side = 1 if radius > 0 else -1
    h = math.sqrt(max(0.0, r * r - chord * chord / 4))
    nx, ny = -(b[1] - a[1]) / chord, (b[0] - a[0]) / chord
    cx, cy = (a[0] + b[0]) / 2 + side * h * nx, (a[1] + b[1]) / 2 + side * h * ny
    start, sweep = math.atan2(a[1] - cy, a[0] - cx), 2 * math.asin(min(1.0, chord / 2 / r))
    n = max(2, math.ceil(sweep / (2 * math.acos(1 - min(0.5, SAG / r)))))
    turns = [start + side * sweep * k / n for k in range(1, n)]
    return [(cx + r * math.cos(t), cy + r * math.sin(t)) for t in turns] + [b]


def points(text, across=1.0):
    """A list of points with arcs between them."""
    out, bend = [], None
    for token in text.split():
        if token.startswith("R"):
            bend = float(token[1:])
            continue
        x, y = (float(v) for v in token.split(";"))
        p = (x / across, y)
        if bend is None:
            out.append(p)
        else:
            # Of a stretched first coordinate the bend is that of the true shape.
            out += arc(out[-1], p, bend)
        bend = None
    return out


def contour(text):
    outer, *holes = text.split(" less ")
    made = [m3.CrossSection([ring(points(t))], m3.FillRule.NonZero) for t in (outer, *holes)]
    for hole in made[1:]:
        made[0] -= hole
    return made[0]


def ring(all_points):
    return np.array(all_points if area(all_points) > 0 else all_points[::-1])


def area(p):
    return sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(p, p[1:] + p[:1])) / 2


def rings(text):
    """Outer and inner diameter of a circle or ring; None for any other shape."""
    if found := re.fullmatch(rf"ø({NUMBER})(?: H7)?", text):
        return float(found[1]), 0.0
    if found := re.fullmatch(rf"ring ø({NUMBER}) / ø({NUMBER})", text):
        return float(found[1]), float(found[2])
    return None


def shape(text):
    """A cross-section about its own place, and whether it lies in the drawing's coordinates already."""
    if found := rings(text):
        return disc(found[0]) - disc(found[1]), False
    if found := re.fullmatch(rf"({NUMBER}) × ({NUMBER})(?:, corners R({NUMBER}))?", text):
        return box(float(found[1]), float(found[2]), float(found[3] or 0)), False
    if found := re.fullmatch(rf"slot ({NUMBER}) × ({NUMBER})", text):
        length, width = float(found[1]), float(found[2])
        return box(length, width, width / 2 - 1e-9), False
    if found := re.fullmatch(rf"({NUMBER}) wide, end here round, ({NUMBER}) long", text):
        width, length = float(found[1]), float(found[2])
        bar = m3.CrossSection.square((length, width)).translate((0, -width / 2))
        return bar + disc(width), False
    if text.startswith("X;Y "):
        return contour(text[4:]), True
    if text.startswith("all around "):
        inner, placed = shape(text[11:])
        return m3.CrossSection.square((FAR, FAR), True) - inner, placed
    raise Elsewhere(text)


def level(text):
    if text == "the face":
        return 0.0
    if text.endswith(" above it"):
        return -float(text.removesuffix(" above it"))
    return float(text)


def wall(text, hollow, start, end):
    """Inset at depths, from the mouth of a hollow or the top of what stands: a list of both."""
    if found := re.search(r"wall in;depth (.*)$", text):
        return points(found[1])
    angle = re.search(rf"draft ({NUMBER})°", text)
    slope = math.tan(math.radians(float(angle[1]))) if angle else 0.0
    if not hollow:
        slope = -slope
    edges = {
        name: (kind, [float(v) for v in re.findall(NUMBER, size)])
        for name, kind, size in re.findall(r"(mouth|floor|top|root) edge (R|chamfer )([^,]*)", text)
    }
    # Inward for a hollow, outward for what stands.
    sense = 1 if hollow else -1
    lean = math.atan(sense * slope)

    def curve(which):
        """(across, down) from the flat to the wall, both rising from 0."""
        kind, size = which
        if kind == "R":
            turns = [(math.pi / 2 - lean) * k / 24 for k in range(25)]
            return [(size[0] * math.sin(t), size[0] * (1 - math.cos(t))) for t in turns]
        return [(0.0, 0.0), (size[0], size[1])]

    first = edges.get("mouth") or edges.get("top")
    last = edges.get("floor") or edges.get("root")
    out = [(sense * a, start + d) for a, d in (curve(first) if first else [(0.0, 0.0)])]
    end_curve = curve(last) if last else [(0.0, 0.0)]
    x, low = out[-1]
    high = end - end_curve[-1][1]
    x += slope * (high - low) + sense * end_curve[-1][0]
    return out + [(x - sense * a, end - d) for a, d in reversed(end_curve)]


def prism(section, steps):
    """A cross-section set in by `steps` = (inset, depth), the depth rising."""
    made = m3.Manifold()
    for (a, top), (b, bottom) in zip(steps, steps[1:]):
        deep = bottom - top
        if deep < 1e-9:
            continue
        n = 1 if abs(a - b) < 1e-9 else min(24, max(2, math.ceil(abs(b - a) / 0.02)))
        for k in range(n):
            inset = a + (b - a) * (k + 0.5) / n
            cut = section.offset(-inset, m3.JoinType.Miter, 20.0) if abs(inset) > 1e-9 else section
            z = -(top + deep * (k + 1) / n)
            if not cut.is_empty():
                made += cut.extrude(deep / n + 1e-7).translate((0, 0, z))
    return made


def revolved(all_points):
    """A body of (radius, depth) points about z."""
    outline = [(max(0.0, r), -d) for r, d in all_points]
    radius = max(r for r, _ in outline)
    if radius <= 0:
        return m3.Manifold()
    return m3.CrossSection([ring(outline)], m3.FillRule.NonZero).revolve(pieces(radius))


def stepped(steps, over=1.0):
    """A hole by (radius, depth) from the face down, open above."""
    r0 = steps[0][0]
    return revolved([(0, -over), (r0, -over), *steps, (0, steps[-1][1])])


# --- the rows ----------------------------------------------------------------------


def hole(text, thick):
    """The body of a hole's steps, or None where the text is no hole's."""
    steps = text.split("; ")
    deep = rf"(?: through| × {NUMBER}(?: flat|, point {NUMBER}°)?)"
    plain = rf"ø{NUMBER}(?: [A-Z]+\d+)?{deep}"
    other = rf"counterbore .*|countersink .*|taper .*|groove .*|sphere .*|{plain}"
    if not re.fullmatch(other, steps[0]):
        return None
    body = m3.Manifold()
    for s in steps:
        n = [float(v) for v in re.findall(NUMBER, s)]
        if s.startswith("counterbore"):
            body += stepped([(n[0] / 2, n[-1])])
        elif s.startswith("countersink"):
            r = n[0] / 2
            body += revolved([(0, 0), (r, 0), (0, r / math.tan(math.radians(n[-1] / 2)))])
        elif s.startswith("taper"):
            body += revolved([(0, 0), (n[0] / 2, 0), (n[1] / 2, n[2]), (0, n[2])])
        elif s.startswith("groove"):
            body += revolved([(0, n[1]), (n[0] / 2, n[1]), (n[0] / 2, n[2]), (0, n[2])])
        elif s.startswith("sphere"):
            big, r = n[0], n[1] / 2
            up = math.sqrt(big * big - r * r)
            turns = [math.asin(r / big) * k / 32 for k in range(33)]
            body += revolved([(0, 0)] + [(big * math.sin(t), big * math.cos(t) - up) for t in reversed(turns)])
        elif s.startswith("ø"):
            r = n[0] / 2
            fit = re.match(r"ø[\d.]+ [A-Z]+\d+", s)
            rest = n[2:] if fit else n[1:]
            if " through" in s:
                body += stepped([(r, thick + 1)])
            elif "point" not in s:
                body += stepped([(r, rest[0])])
            else:
                body += stepped([(r, rest[0]), (0, rest[0] + r / math.tan(math.radians(rest[1] / 2)))])
        elif not re.search(r"(through|× [\d.]+)$", s):
            raise ValueError(f"a step of a hole that says nothing: {s!r}")
    return body


def hollow(text, thick):
    """(body, whether it is hollow, whether it lies in the drawing's coordinates)."""
    if "outline of" in text or "outlines of" in text or "free shape" in text:
        raise Elsewhere(text)
    stands = text.startswith("standing")
    text = re.sub(r"^standing,? ", "", text)
    if text.startswith("turned, ø;depth "):
        body = m3.Manifold()
        for part in text.removeprefix("turned, ø;depth ").split(" and "):
            # Arcs are of the true section: diameters first become radii.
            halved = re.sub(rf"({NUMBER});", lambda f: f"{float(f[1]) / 2:.6f};", part)
            # Depth runs down: the list was counter-clockwise with depth upward.
            body += revolved(points(halved))
        return body, not stands, False
    if found := re.fullmatch(rf"half-round R({NUMBER}), round ends, along X;Y (.*)", text):
        radius, line = float(found[1]), points(found[2])
        ball = m3.Manifold.sphere(radius, pieces(radius))
        body = m3.Manifold()
        for a, b in zip(line, line[1:]):
            ends = [ball.translate((*a, 0)), ball.translate((*b, 0))]
            body += m3.Manifold.batch_hull(ends)
        return body.trim_by_plane((0, 0, -1), 0.0), not stands, True
    levels = rf"(through|{NUMBER}(?: ±{NUMBER})? deep|from (.+?) (?:up )?to ((?:the face|{NUMBER}(?: above it)?)))"
    found = re.fullmatch(rf"(.*?), {levels}((?:, (?:draft|floor|mouth|top|root|wall).*)?)", text)
    if not found:
        raise ValueError(f"not understood: {text!r}")
    if found[2] == "through":
        start, end = 0.0, thick
    elif found[3]:
        start, end = sorted((level(found[3]), level(found[4])))
    else:
        start, end = 0.0, float(re.match(NUMBER, found[2])[0])
    steps = wall(found[5], not stands, start, end)
    if round_about := rings(found[1]):
        outer, inner = (r / 2 for r in round_about)
        body = revolved([(0, start)] + [(outer - a, d) for a, d in steps] + [(0, end)])
        if inner:
            body -= revolved([(0, start)] + [(inner + a, d) for a, d in steps] + [(0, end)])
        return body, not stands, False
    section, placed = shape(found[1])
    return prism(section, steps), not stands, placed


def outside(text, stock_radius):
    """What is turned off around an end: a ring about the axis, from the face down."""
    profile, depth = [], 0.0
    token = re.compile(
        rf"chamfer ø(?P<c0>{NUMBER}) to ø(?P<c1>{NUMBER}) × (?P<cl>{NUMBER})"
        rf"|cone ø(?P<k0>{NUMBER}) to ø(?P<k1>{NUMBER}) × (?P<kl>{NUMBER})"
        rf"|undercut ø(?P<u>{NUMBER}) × (?P<ul>{NUMBER})"
        rf"|sphere R(?P<sr>{NUMBER}) from ø(?P<s0>{NUMBER}), (?P<sl>{NUMBER}) long"
        rf"|corners chamfered 30° from ø(?P<cr>{NUMBER})"
        rf"|ø(?P<p>{NUMBER}) × (?P<pl>{NUMBER})"
        rf"|[^,]*? × (?P<tl>{NUMBER}), crests ø(?P<t0>{NUMBER})(?: to ø(?P<t1>{NUMBER}) \(1:16\))?"
    )
    rest = text
    while rest:
        m = token.match(rest)
        if not m:
            raise ValueError(f"not understood: {rest!r}")
        g = {k: float(v) for k, v in m.groupdict().items() if v is not None}
        if "sr" in g:
            r, r0 = g["sr"], g["s0"] / 2
            d0 = math.sqrt(r * r - r0 * r0)
            curve = [(math.sqrt(max(0.0, r * r - (d0 - g["sl"] * k / 48) ** 2)), depth + g["sl"] * k / 48)
                     for k in range(49)]
            profile += curve
            depth += g["sl"]
        elif "cr" in g:
            r0 = g["cr"] / 2
            profile += [(r0, depth), (stock_radius, depth + (stock_radius - r0) * math.tan(math.radians(30)))]
        else:
            pairs = [("c0", "c1", "cl"), ("k0", "k1", "kl"), ("u", "u", "ul"), ("p", "p", "pl"), ("t0", "t1", "tl")]
            a, b, length = next(p for p in pairs if p[0] in g)
            r0, r1 = g[a] / 2, g.get(b, g[a]) / 2
            profile += [(r0, depth), (r1, depth + g[length])]
            depth += g[length]
        rest = rest[m.end():].removeprefix(", ")
    far = stock_radius + 1
    edge = profile + [(far, profile[-1][1]), (far, -1), (profile[0][0], -1)]
    return revolved(edge)


def build(sheets):
    """The piece that a drawing's sheets show."""
    first = sheets[0]
    thick, stock, round_about = blank(first, [r for s in sheets for r in s.rows])
    removed, added = m3.Manifold(), m3.Manifold()
    bodies = {}
    front, text, told = True, "", 0
    for cells in [r for s in sheets for r in s.rows]:
        if len(cells) == 1:
            if cells[0] == "notes":
                break
            if cells[0].startswith("from the "):
                told += 1
                front = told == 1
            continue
        tag, x, y, angle, what = cells
        if not tag:
            continue
        if what != "same":
            text = re.sub(r"^\d+× ", "", what).split(": ", 1)[1]
        body, cuts, placed = row(text, thick, round_about)
        if not placed and x:
            turn = float(angle.rstrip("°")) if angle else 0.0
            body = body.rotate((0, 0, turn)).translate((float(x), float(y), 0))
        if not front:
            # Turned over sideways.
            body = body.rotate((0, 180, 0)).translate((0, 0, -thick))
        key = (tag, front)
        if cuts:
            bodies[key] = bodies.get(key, m3.Manifold()) + body
        elif key in bodies:
            bodies[key] -= body
        else:
            added += body
    for body in bodies.values():
        removed += body
    whole = stock + added
    return Piece(first.title["number"], whole, (stock - removed) + added)


def row(text, thick, round_about):
    made = hole(text, thick)
    if made is not None:
        return made, True, False
    if text.startswith("from the face: "):
        return outside(text.removeprefix("from the face: "), round_about), True, True
    return hollow(text, thick)


def blank(sheet, rows):
    """Thickness, the body of the bare plate below z = 0, and the radius that holds all of it."""
    material = sheet.title["material, thickness"]
    level, upright = dimensions(sheet, False), dimensions(sheet, True)
    if any(len(c) == 5 and ": standing" in c[4] and c[0].startswith("C") for c in rows):
        # A core: its spigot's length is the lower size at the right of the section.
        right = max(d[2][0] for d in upright)
        thick = max((d for d in upright if right - d[2][0] < 0.1), key=lambda d: d[2][3])[0]
        section = disc(max(v for v, is_round, _ in level if is_round))
        return thick, section.extrude(thick).translate((0, 0, -thick)), FAR
    if " bar " in material:
        thick = max(v for v, _, _ in level)
        # Beside the end view, at the right of everything.
        size, is_round, _ = max(upright, key=lambda d: d[2][0])
        if is_round:
            section = disc(size)
        elif "hexagon" in material:
            corner = size / math.sqrt(3)
            turns = [math.radians(60 * k) for k in range(6)]
            section = m3.CrossSection([np.array([(corner * math.cos(t), corner * math.sin(t)) for t in turns])])
        else:
            raise Elsewhere("flats")
        return thick, section.extrude(thick).translate((0, 0, -thick)), size
    thick = float(re.search(rf"({NUMBER}) (?:mm|in)$", material)[1])
    given = next((c for c in rows if len(c) == 5 and c[4].startswith("outline: ")), None)
    rounds = [v for v, is_round, _ in level if is_round]
    if given:
        section, placed = shape(given[4].removeprefix("outline: "))
        if not placed:
            turn = float(given[3].rstrip("°")) if given[3] else 0.0
            section = section.rotate(turn).translate((float(given[1]), float(given[2])))
    elif rounds:
        section = disc(max(rounds))
    else:
        width = max(level, key=lambda d: d[2][1])[0]
        height = min(upright, key=lambda d: d[2][0])[0]
        corners = [re.fullmatch(rf"4× R({NUMBER})", r["text"].strip()) for r in sheet.runs]
        radius = next((float(c[1]) for c in corners if c), 0.0)
        mirrored = any("X negative" in r["text"] for r in sheet.runs
                       if r["text"].startswith("seen on") and "(" not in r["text"])
        section = box(width, height, radius).translate((-width / 2 if mirrored else width / 2, height / 2))
    return thick, section.extrude(thick).translate((0, 0, -thick)), FAR


def drawings(pdf):
    """Sheets by drawing number, of the parts that are made."""
    out = {}
    for page in pdf.pages:
        sheet = read(page)
        if sheet.title.get("document") == "part drawing":
            out.setdefault(sheet.title["number"], []).append(sheet)
    return out
