"""Closed bodies of triangles, at random, and the files they come in. Plain Python.

A body is (points, faces): mm, faces of three or four corners, counter-clockwise from
outside, +z where the mold opens. Faults are such as exports have: some are mended by the
program, some must be refused.
"""
import io
import math
import struct
import zipfile

UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


def tube(rings, closed=False):
    """Rings of as many points each, from the bottom up, with walls between neighbours and
    lids on the first and last; `closed`: the last is joined to the first instead. A ring of
    one point is a tip."""
    points, faces, starts = [], [], []
    for ring in rings:
        starts.append(len(points))
        points += ring
    pairs = list(zip(range(len(rings)), range(1, len(rings))))
    if closed:
        pairs.append((len(rings) - 1, 0))
    for a, b in pairs:
        n = max(len(rings[a]), len(rings[b]))
        at = lambda k, i: starts[k] + (i % n if len(rings[k]) > 1 else 0)
        for i in range(n):
            face = [at(a, i), at(a, i + 1), at(b, i + 1), at(b, i)]
            face = [c for j, c in enumerate(face) if c != face[j - 1]]
            faces.append(face)
    if not closed:
        for k, flip in ((0, True), (len(rings) - 1, False)):
            if len(rings[k]) > 1:
                faces += lid(points, starts[k], len(rings[k]), flip)
    return points, faces


def lid(points, start, n, flip):
    """A fan about the middle of a flat ring."""
    ring = points[start:start + n]
    points.append(tuple(sum(p[k] for p in ring) / n for k in range(3)))
    tip = len(points) - 1
    fan = [[start + i, start + (i + 1) % n, tip] for i in range(n)]
    return [f[::-1] for f in fan] if flip else fan


def circle(radius, z, n):
    return [(radius * math.cos(2 * math.pi * i / n), radius * math.sin(2 * math.pi * i / n), z) for i in range(n)]


def scaled(ring, factor, z):
    return [(x * factor, y * factor, z) for x, y, *_ in ring]


class Bodies:
    """Random bodies; `m` is a random_designs.Maker."""

    def __init__(self, maker):
        self.m, self.r = maker, maker.r

    def prism(self, size):
        """Drafted: narrowest at the top, or widest at half height."""
        n = self.r.randint(3, 12)
        ring = [(size / 2 * d * math.cos(a), size / 2 * d * math.sin(a)) for d, a in
                ((self.r.uniform(0.6, 1), 2 * math.pi * (i + self.r.uniform(-0.2, 0.2)) / n) for i in range(n))]
        h = self.m.num(2, 0.5 * size)
        lean = 1 - h / size * self.r.uniform(0.02, 0.4)
        if self.m.chance(0.4):
            return tube([scaled(ring, lean, 0), scaled(ring, 1, h / 2), scaled(ring, lean, h)])
        return tube([scaled(ring, 1, 0), scaled(ring, lean, h)])

    def dome(self, size):
        n, rows, h = self.r.choice([12, 24, 48]), self.r.randint(3, 16), self.m.num(0.1, 0.6) * size
        rings = [circle(size / 2 * math.cos(math.pi / 2 * k / rows), h * math.sin(math.pi / 2 * k / rows), n)
                 for k in range(rows)]
        return tube(rings + [[(0, 0, h)]])

    def ball(self, size):
        """A blob widest at its middle; now and then lumpy, so that its rim is no plane."""
        n, rows, h = self.r.choice([16, 32]), 2 * self.r.randint(3, 8), self.m.num(0.4, 1.2) * size
        lumps = [(self.r.uniform(0, 0.04), self.r.randint(2, 5), self.r.uniform(0, 6)) for _ in range(2)]
        if self.m.chance(0.6):
            lumps = []
        rings = []
        for k in range(1, rows):
            a = math.pi * k / rows - math.pi / 2
            ring = []
            for x, y, _ in circle(size / 2 * math.cos(a), 0, n):
                f = 1 + sum(w * math.cos(c * math.atan2(y, x) + p + 2 * a) for w, c, p in lumps)
                ring.append((x * f, y * f, h / 2 * math.sin(a)))
            rings.append(ring)
        return tube([[(0, 0, -h / 2)]] + rings + [[(0, 0, h / 2)]])

    def tray(self, size):
        """An open box with leaning walls, its opening below."""
        w, d, h = size, size * self.r.uniform(0.4, 1), self.m.num(0.1, 0.5) * size
        t, lean = self.m.num(1.2, 0.1 * size + 1.5), h * self.r.uniform(0.02, 0.2)

        def box(grow, z):
            x, y = w / 2 + grow, d / 2 + grow
            return [(-x, -y, z), (x, -y, z), (x, y, z), (-x, y, z)]
        floor = min(t, 0.5 * h)
        return tube([box(-t - lean * (1 - floor / h), h - floor), box(-t, 0), box(0, 0), box(-lean, h)])

    def ring(self, size):
        n, m, r = self.r.choice([16, 40]), self.r.randint(5, 16), size * self.r.uniform(0.06, 0.2)
        turn = self.r.choice([0, math.pi / m])
        rings = [circle(size / 2 - r + r * math.cos(a), r * math.sin(a), n)
                 for a in (turn + 2 * math.pi * k / m for k in range(m))]
        return tube(rings, closed=True)

    def holed(self, size):
        """A disk with a bore through it, both leaning."""
        n, h, lean = self.r.choice([8, 32]), self.m.num(2, 0.3 * size), self.m.num(0.1, 0.8)
        bore = size * self.r.uniform(0.1, 0.3)
        return tube([circle(bore - lean, 0, n), circle(size / 2, 0, n),
                     circle(size / 2 - lean, h, n), circle(bore, h, n)], closed=True)

    def spool(self, size):
        """It hooks, whichever way the mold opens, unless it lies down."""
        n, r = self.r.choice([12, 32]), size / 2
        waist, z = r * self.r.uniform(0.4, 0.8), [size * k for k in (0, 0.1, 0.3, 0.4)]
        return tube([circle(r, z[0], n), circle(r, z[1], n), circle(waist, z[1] + 0.01, n),
                     circle(waist, z[2] - 0.01, n), circle(r, z[2], n), circle(r, z[3], n)])

    def relief(self, size):
        """As scanned: a waved top over a flat bottom, walls that lean."""
        n = self.r.randint(6, 40)
        h, w = self.m.num(2, 0.2 * size), size / 2
        a, b, p = self.r.uniform(0.1, 0.5), self.r.uniform(0.1, 0.5), self.r.uniform(0, 0.3) * h
        across = lambda i: w * (2 * i / n - 1)
        points, faces = [], []
        for j in range(n + 1):
            for i in range(n + 1):
                x, y = across(i), across(j)
                points.append((x, y, h + p * math.sin(a * x) * math.cos(b * y)))
        top = lambda i, j: j * (n + 1) + i
        for j in range(n):
            for i in range(n):
                q = [top(i, j), top(i + 1, j), top(i + 1, j + 1), top(i, j + 1)]
                faces += [[q[0], q[1], q[2]], [q[0], q[2], q[3]]]
        rim = ([top(i, 0) for i in range(n)] + [top(n, j) for j in range(n)]
               + [top(i, n) for i in range(n, 0, -1)] + [top(0, j) for j in range(n, 0, -1)])
        foot = len(points)
        points += [(points[k][0] * 1.02, points[k][1] * 1.02, 0.0) for k in rim]
        m = len(rim)
        for i in range(m):
            j = (i + 1) % m
            faces.append([foot + i, foot + j, rim[j], rim[i]])
        faces += lid(points, foot, m, True)
        return points, [t for f in faces for t in fan(f)]

    def body(self, size):
        kinds = [self.prism, self.dome, self.ball, self.tray, self.ring, self.holed, self.relief]
        return self.r.choice(kinds * 2 + [self.spool])(size)

    # ---- what exports do to them ----

    def fault(self, points, faces):
        """(points, triangles) with a fault or without."""
        t = [t for f in faces for t in fan(f)]
        points = list(points)
        kind = self.r.choice(["none"] * 5 + ["hole", "turned", "doubled", "inside out", "flat", "crumb",
                                            "crack", "split", "open", "through"])
        k = self.r.randrange(len(t))
        if kind == "hole":
            del t[k]
        elif kind == "turned":
            for i in self.r.sample(range(len(t)), max(1, len(t) // 20)):
                t[i] = t[i][::-1]
        elif kind == "doubled":
            t.append(list(t[k]))
        elif kind == "inside out":
            t = [f[::-1] for f in t]
        elif kind == "flat":
            t.insert(k, [t[k][0], t[k][1], t[k][0]])
        elif kind == "crumb":
            n, s = len(points), 1e-3
            at = points[t[k][0]]
            points += [tuple(at[j] + s * (i == j) + 2 for j in range(3)) for i in range(4)]
            t += [[n, n + 2, n + 1], [n, n + 1, n + 3], [n + 1, n + 2, n + 3], [n, n + 3, n + 2]]
        elif kind == "crack":
            # Each triangle with corners of its own, none quite where its neighbour's is.
            loose, all_of = [], []
            for f in t:
                all_of.append([len(loose) + i for i in range(3)])
                loose += [tuple(c + self.r.uniform(-4e-4, 4e-4) for c in points[i]) for i in f]
            points, t = loose, all_of
        elif kind == "split":
            a, b, c = t[k]
            points.append(tuple((points[a][i] + points[b][i]) / 2 for i in range(3)))
            n = len(points) - 1
            t[k:k + 1] = [[a, n, c], [n, b, c]]
        elif kind == "open":
            t = t[: max(1, len(t) * 2 // 3)]
        elif kind == "through":
            # A second body pushed into the first.
            n = len(points)
            low = [min(p[i] for p in points) for i in range(3)]
            high = [max(p[i] for p in points) for i in range(3)]
            more, also = tube([circle(0.2 * (high[0] - low[0]), low[2] + 0.3 * (high[2] - low[2]), 6),
                               circle(0.15 * (high[0] - low[0]), high[2] + 2, 6)])
            points += [(x + high[0] - 0.1 * (high[0] - low[0]), y, z) for x, y, z in more]
            t += [[i + n for i in f] for g in also for f in fan(g)]
        return points, t

    def lay(self, points):
        """Turned any way, and moved."""
        kind = self.r.random()
        if kind < 0.4:
            return points
        if kind < 0.55:
            points = [(y, z, x) for x, y, z in points]
        else:
            a, b = self.r.uniform(0, 6), self.r.uniform(0, 6)
            (c, s), (d, e) = (math.cos(a), math.sin(a)), (math.cos(b), math.sin(b))
            points = [(c * x - s * y, d * (s * x + c * y) - e * z, e * (s * x + c * y) + d * z) for x, y, z in points]
        move = [self.r.uniform(-300, 300) for _ in range(3)]
        return [tuple(p[i] + move[i] for i in range(3)) for p in points]


def fan(face):
    return [[face[0], face[i], face[i + 1]] for i in range(1, len(face) - 1)]


# ---- files: bytes of points and triangles ----

def stl(points, triangles):
    out = bytearray(80) + struct.pack("<I", len(triangles))
    for t in triangles:
        out += struct.pack("<12fH", 0, 0, 0, *(c for i in t for c in points[i]), 0)
    return bytes(out)


def stl_text(points, triangles):
    lines = ["solid part"]
    for t in triangles:
        corners = "".join(" vertex %.7g %.7g %.7g\n" % tuple(points[i]) for i in t)
        lines.append(f"facet normal 0 0 0\nouter loop\n{corners}endloop\nendfacet")
    return "\n".join(lines + ["endsolid part\n"]).encode()


def obj(points, triangles):
    lines = ["# a part", "o part"] + ["v %.7g %.7g %.7g" % tuple(p) for p in points] + ["vn 0 0 1"]
    lines += ["f " + " ".join(f"{i + 1}//1" for i in t) for t in triangles]
    return "\n".join(lines + [""]).encode()


def threemf(points, triangles, unit):
    words = {"mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch"}
    vertices = "".join('<vertex x="%.9g" y="%.9g" z="%.9g"/>' % tuple(p) for p in points)
    faces = "".join('<triangle v1="%d" v2="%d" v3="%d"/>' % tuple(t) for t in triangles)
    model = (f'<?xml version="1.0" encoding="UTF-8"?><model unit="{words[unit]}" '
             'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
             f'<object id="1" type="model"><mesh><vertices>{vertices}</vertices>'
             f'<triangles>{faces}</triangles></mesh></object></resources>'
             '<build><item objectid="1"/></build></model>')
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as z:
        # A fixed date: the same bytes each time.
        z.writestr(zipfile.ZipInfo("3D/3dmodel.model"), model)
    return packed.getvalue()
