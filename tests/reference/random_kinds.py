"""Parameter files of turned parts, bodies from mesh files, layered molds, drawn outlines, turned
adaptors, patterned and stroked plates.

Each kind of file has its own counter; what a file names is written beside it.
"""
import math

from random_bodies import UNITS, Bodies, obj, stl, stl_text, threemf
from random_designs import FAMILIES, METALS, SIZES, Maker


class Kinds(Maker):
    """Each method: name → (text of the parameter file, {name of a file beside it: bytes})."""

    # ---- turned adaptors ----

    def reducer(self, name):
        def thread():
            return self.r.choice(FAMILIES).format(self.r.choice(SIZES[1:]))

        kind = self.r.choice(["male"] * 4 + ["female"] * 3 + ["cone", "sphere", "spigot", "flange"])
        outlet = {"end": kind}
        if kind in ("male", "female"):
            outlet["thread"] = thread()
        elif kind == "cone":
            outlet |= {"angle": self.num(30, 118, 0), "diameter": self.num(11, 16, 1)}
        elif kind == "sphere":
            outlet["radius"] = self.num(8, 20, 1)
        elif kind == "spigot":
            outlet["diameter"] = self.num(12, 30, 1)
        else:
            outlet |= {"circle": self.num(45, 70, 0), "diameter": self.num(14, 22, 1), "size": "M6"}
        nozzle = {"thread": thread(), "orifice": self.num(2, 5, 1)}
        reducer = {"outlet": outlet, "grip": self.r.choice(["hexagon", "hexagon", "flats", "round"])}
        if self.chance(0.1):
            nozzle = {"joint": "seat", "seat": self.r.choice(["sphere", "cone"])}
        elif self.chance(0.3):
            reducer["inlet"] = "male"
        if self.chance(0.3):
            reducer["length"] = self.num(40, 120, 1)
        if self.chance(0.3):
            reducer["material"] = self.r.choice(METALS)
        if self.chance(0.2):
            reducer["bore"] = self.num(4, 8, 1)
        return self.text(
            [("job", {"name": name, "kind": "reducer"}), ("nozzle", nozzle), ("reducer", reducer),
             ("shop", {"machines": ["lathe", "mill"]}), ("output", self.output(adaptor=True))], [],
        ), {}

    # ---- turned parts ----

    def turned(self, name):
        kind = self.r.choice(["cup", "lid", "knob", "wheel"] * 3 + ["free"])
        profile, reach, bore = getattr(self, kind)()
        part = {"profile": profile}
        # Draft acts on walls along the axis alone; without one it is refused, which is tried too.
        if self.chance(0.6 if upright(profile) else 0.03):
            part["draft"] = self.num(0.5, 6)
        if self.chance(0.15):
            part["turned_over"] = self.chance(0.5)
        mold = {"cavities": self.r.choice([1, 1, 1, 2, 4])}
        # Only a hollow takes a core; now and then it is asked for all the same.
        if self.chance(0.3 if kind in ("cup", "lid") else 0.02):
            mold["core"] = self.r.choice(["turned", "bolted"])
        holes, features = [], []
        for at, room in self.places(0.6 * reach):
            if math.hypot(*at) < bore + room + 2:
                continue
            what = self.r.choice(["hole", "boss", "pocket", "none"])
            if what == "hole":
                holes.append({"at": at, "diameter": self.num(0.5 + 0.3 * room, 1.4 * room)})
            elif what != "none":
                features.append({"kind": what, "side": self.r.choice(["top", "bottom"]), "at": at,
                                 "diameter": self.num(0.8 * room, 1.4 * room),
                                 "height" if what == "boss" else "depth": self.num(0.3, 1.2)})
        return self.around(name, mold, part, holes, features), {}

    def cup(self):
        """Hollow, by its wall; drawn either way up, straight or in steps or rounded."""
        foot, high = self.num(8, 40), self.num(5, 70)
        mouth = round(foot + high * math.tan(math.radians(self.r.uniform(-0.3, 8))) + 0.02, 2)
        if self.chance(0.3):
            mouth = foot
        wall = self.num(0.8, 4)
        first, steps = {"to": [foot, 0]}, []
        if self.chance(0.6):
            first["fillet"] = self.r.choice([wall + self.num(0.2, 4), self.num(0.3, 3)])
        if self.chance(0.3):
            mid = self.num(0.3, 0.7)
            steps.append({"to": [round(foot + (mouth - foot) * mid * 0.8, 2), round(high * mid, 2)]})
        end = {"to": [mouth, high]}
        if self.chance(0.25):
            end["bulge"] = self.num(0.02, 0.2, 3)
        steps.append(end)
        return {"start": [0, 0], "steps": [first, *steps], "wall": wall}, foot, 0

    def lid(self):
        """A whole section: a disk with a skirt."""
        r, skirt, top, wall = self.num(10, 60), self.num(3, 18), self.num(1.2, 4), self.num(1.2, 4)
        lean = round(skirt * math.tan(math.radians(self.r.uniform(0.3, 6))), 3)
        edge = {"to": [r, top + skirt]}
        if self.chance(0.5):
            edge["fillet"] = self.num(0.2, 0.9 * top)
        steps = [{"to": [round(r + lean, 3), 0]}, edge, {"to": [0, top + skirt]}]
        inner = round(r + lean - wall, 3)
        return {"start": [0, skirt], "steps": [{"to": [round(inner - lean - 0.1, 3), skirt]}, {"to": [inner, 0]}, *steps]}, 0.8 * r, 0

    def knob(self):
        """Solid: a foot, a bulging head."""
        r, h = self.num(8, 35), self.num(6, 40)
        steps = [{"to": [round(r * self.r.uniform(0.5, 0.98), 2), 0]}]
        side = {"to": [r, round(h * self.r.uniform(0.2, 0.7), 2)]}
        if self.chance(0.5):
            side["bulge"] = self.num(0.02, 0.12, 3)
        steps.append(side)
        shoulder = {"to": [round(r * self.r.uniform(0.5, 0.98), 2), h]}
        kind = self.r.random()
        if kind < 0.4:
            shoulder["fillet"] = self.num(0.3, 0.2 * r)
        elif kind < 0.8 and "bulge" not in side:
            shoulder["bulge"] = self.num(0.05, 0.12, 3)
        steps += [shoulder, {"to": [0, h]}]
        return {"start": [0, 0], "steps": steps}, 0.5 * r, 0

    def wheel(self):
        """A ring with a bore; now and then with a thinner web."""
        bore, r, h = self.num(2, 10), self.num(20, 50), self.num(4, 20)
        lean = self.num(0.05, 0.4)
        steps = []
        if self.chance(0.6):
            a, b = round(bore + self.num(3, 5), 2), round(r - self.num(3, 5), 2)
            web = round(h * self.r.uniform(0.15, 0.35), 2)
            around = lambda z, far: [{"to": [a, z]}, {"to": [round(a + lean, 2), far], "fillet": self.num(0.3, 1)},
                                     {"to": [round(b - lean, 2), far], "fillet": self.num(0.3, 1)}, {"to": [b, z]}]
            steps += around(0, web) + [{"to": [r - lean, 0]}, {"to": [r, h / 2]}, {"to": [r - lean, h]}]
            steps += around(h, h - web)[::-1]
        else:
            steps += [{"to": [r - lean, 0]}, {"to": [r, h / 2]}, {"to": [r - lean, h]}]
        steps += [{"to": [bore + lean, h]}, {"to": [bore, h / 2]}]
        return {"start": [bore + lean, 0], "steps": steps}, r, bore

    def free(self):
        """A section of random corners: many cannot be molded, and must be told so."""
        n, r = self.r.randint(3, 7), self.num(8, 40)
        h = self.num(5, 40)
        points = [[round(r * self.r.uniform(0.4, 1), 2), round(h * k / (n - 1), 2)] for k in range(n)]
        steps = [{"to": p} for p in points]
        for s in steps[1:]:
            kind = self.r.random()
            if kind < 0.3:
                s["bulge"] = self.num(-0.2, 0.3, 3)
            elif kind < 0.5:
                s["fillet"] = self.num(0.2, 2)
        return {"start": [0, 0], "steps": [*steps, {"to": [0, h]}]}, 0.4 * r, 0

    # ---- bodies from mesh files ----

    def mesh(self, name):
        bodies = Bodies(self)
        points, triangles = bodies.fault(*bodies.body(self.r.uniform(12, 90)))
        points = bodies.lay(points)
        unit = self.r.choice(["mm"] * 6 + ["cm", "m", "in"])
        points = [tuple(c / UNITS[unit] for c in p) for p in points]
        kind = self.r.choice(["stl", "stl", "text", "obj", "3mf"])
        ending = "stl" if kind == "text" else kind
        mesh = {"file": f"{name}-body.{ending}"}
        if kind != "3mf" and (unit != "mm" or self.chance(0.5)):
            mesh["unit"] = unit
        if self.chance(0.4):
            mesh["up"] = self.r.choice(["+z", "+z", "+z", "-z", "+x", "-y"])
        if self.chance(0.2):
            mesh["angle"] = self.num(-180, 180)
        if self.chance(0.1):
            mesh["mend"] = self.num(0, 0.05, 3)
        mold = {"cavities": self.r.choice([1, 1, 1, 2, 2, 3, 4])}
        if self.chance(0.1):
            mold["parting"] = self.num(0, 20)
        made = {"stl": stl, "text": stl_text, "obj": obj}
        data = threemf(points, triangles, unit) if kind == "3mf" else made[kind](points, triangles)
        return self.around(name, mold, {"mesh": mesh}), {mesh["file"]: data}

    # ---- layered molds ----

    def sheets(self, name):
        cavities = self.r.choice([1, 1, 1, 2, 4])
        outline, inner, _ = self.outline(self.r.uniform(16, 120 if cavities == 1 else 50))
        part = {"thickness": self.num(0.8, 12), "outline": outline}
        if self.chance(0.2):
            part["draft"] = self.num(0.5, 5)
        holes = []
        for at, room in self.places(0.8 * inner):
            hole = {"at": at}
            if self.chance(0.85):
                # Such as a dowel pin fills, or too large for one.
                pin = self.r.choice([d for d in (3, 4, 5, 6, 8, 10, 12, 16) if d < 2 * room] or [0])
                hole["diameter"] = round(pin * self.r.uniform(0.965, 1.01), 2) if pin else self.num(1, 2)
            else:
                hole["outline"] = self.outline(1.5 * room)[0]
            holes.append(hole)
        mold = {"cavities": cavities, "build": "layered"}
        layers = {}
        if self.chance(0.4):
            layers["sheets"] = [self.r.choice([1, 1.5, 2, 3, 4, 6]) for _ in range(self.r.choice([1, 1, 2, 3]))]
        if self.chance(0.3):
            layers["material"] = self.r.choice(["S235", "S275", "5083", "6082"])
        if self.chance(0.4):
            layers["cut"] = self.r.choice(["laser", "waterjet", "plasma"])
        if self.chance(0.2) and len(layers.get("sheets", [])) > 1:
            layers["step"] = self.num(0.05, 0.6)
        if layers:
            mold["layers"] = layers
        return self.around(name, mold, part, holes), {}

    # ---- outlines from drawings ----

    def drawn(self, name):
        """An SVG or DXF of curves, arcs and holes, with relief drawn beside or text."""
        size = self.r.uniform(16, 90)
        ending = self.r.choice(["svg", "dxf"])
        outline = {"shape": "file", "file": f"{name}.{ending}", "layers": ["outline"], "origin": "drawing"}
        n = self.r.randint(5, 14)
        ring = [(d * size / 2 * math.cos(a), d * size / 2 * math.sin(a)) for d, a in
                ((self.r.uniform(0.75, 1), 2 * math.pi * i / n) for i in range(n))]
        spots = self.places(0.55 * size * 0.45)
        rounds = [(at, 0.4 * room) for at, room in spots]
        data = (svg if ending == "svg" else dxf)(ring, rounds, self)
        kind = self.r.random()
        if kind < 0.2:
            outline["width"] = round(size * self.r.uniform(0.6, 1.3), 2)
            outline["origin"] = "middle"
        elif kind < 0.3:
            outline["scale"] = self.num(0.7, 1.4)
        if self.chance(0.2):
            outline["angle"] = self.num(-180, 180)
        if self.chance(0.2):
            outline["mirror"] = True
        if self.chance(0.3):
            outline["fit"] = self.num(0.005, 0.2, 3)
        thick = self.num(2, 8)
        part = {"thickness": thick, "outline": outline}
        if self.chance(0.5):
            part["draft"] = self.num(0.5, 5)
        if self.chance(0.5):
            part["round"] = True
        features = []
        if not spots and self.chance(0.7):
            features.append({"kind": "text", "text": self.r.choice(["SHED", "S&M", "tide 7"]), "at": [0, 0],
                             "side": self.r.choice(["top", "bottom"]), "size": round(0.12 * size, 2),
                             self.r.choice(["height", "depth"]): self.num(0.3, 0.25 * thick), "draft": self.num(5, 15)})
        return self.around(name, {}, part, [], features), {f"{name}.{ending}": data}

    # ---- stars, rings, keyholes, combs, gears; copies of holes and features; bent and fitted texts ----

    def star(self, size):
        n = self.r.randint(3, 9)
        inner = size * self.r.uniform(0.45, 0.8)
        t = {"shape": "star", "points": n, "diameter": round(size, 2), "inner_diameter": round(inner, 2)}
        if self.chance(0.7):
            t["corner_radius"] = self.num(0.2, 0.04 * size)
        if self.chance(0.4):
            t["angle"] = self.num(-180, 180)
        return t, inner / 2 * math.cos(math.pi / n), size / 2

    def washer(self, size):
        inner = round(size * self.r.uniform(0.3, 0.75), 2)
        return {"shape": "ring", "diameter": round(size, 2), "inner_diameter": inner}, 0, size / 2

    def keyhole(self, size):
        width = size * self.r.uniform(0.2, 0.5)
        head = width * self.r.uniform(1.3, 2.2)
        t = {"shape": "keyhole", "diameter": round(head, 2), "width": round(width, 2),
             "length": round(max(size, 1.2 * (head + width)), 2)}
        if self.chance(0.5):
            t["angle"] = self.num(-180, 180)
        return t, width / 2, size

    def comb(self, size):
        teeth = self.r.randint(3, 16)
        high = round(size * self.r.uniform(0.3, 0.6), 2)
        t = {"shape": "comb", "width": round(size, 2), "height": high, "teeth": teeth,
             "tooth_width": round(size / teeth * self.r.uniform(0.35, 0.65), 2),
             "tooth_length": round(high * self.r.uniform(0.3, 0.65), 2)}
        if self.chance(0.6):
            t["corner_radius"] = self.num(0.5, 0.25 * high)
        return t, 0, size / 2

    def gear(self, size):
        teeth = self.r.choice([8, 10, 12, 15, 18, 20, 24, 30])
        module = round(max(0.8, size / (teeth + 2)), 2)
        t = {"shape": "gear", "module": module, "teeth": teeth}
        if self.chance(0.6):
            t["bore"] = round(module * teeth * self.r.uniform(0.15, 0.4), 2)
        if self.chance(0.3):
            t["pressure_angle"] = self.r.choice([14.5, 20, 25])
        if self.chance(0.3):
            t["backlash"] = round(0.05 * module, 3)
        if self.chance(0.4) or teeth < 12:
            t["profile_shift"] = self.num(0, 0.5)
        if self.chance(0.3):
            t["angle"] = self.num(-180, 180)
        return t, 0 if "bore" in t else 0.4 * module * teeth, size / 2

    def repeat(self, room):
        """A repeat of something about `room` wide that stands at the middle."""
        kind = self.r.choice(["row", "grid", "circle", "circle"])
        far = round(room * self.r.uniform(2.2, 3), 2)
        if kind == "row":
            a = self.r.uniform(0, 2 * math.pi)
            step = [round(far * math.cos(a), 2), round(far * math.sin(a), 2)]
            return {"along": "row", "count": self.r.randint(2, 4), "step": step}
        if kind == "grid":
            return {"along": "grid", "columns": self.r.randint(1, 3), "rows": self.r.randint(1, 3),
                    "step": [far, round(1.1 * far, 2)]}
        t = {"along": "circle", "count": self.r.randint(2, 8)}
        if self.chance(0.3):
            t["step_angle"] = self.num(20, 45)
        if self.chance(0.3):
            t["upright"] = True
        return t

    def patterned(self, name):
        """A plate of any of these outlines or the plain ones, with copies and texts."""
        size = self.r.uniform(30, 90)
        own = [self.star, self.washer, self.comb, self.gear, self.gear, self.keyhole]
        outline, inner, _ = self.r.choice(own)(size) if self.chance(0.6) else self.outline(size)
        thick = self.num(2, 8)
        part = {"thickness": thick, "outline": outline}
        if self.chance(0.6):
            part["draft"] = self.num(0.5, 3)
        holes, features = [], []
        if inner > 6:
            room = self.num(0.08, 0.16) * inner
            at = [round(0.55 * inner, 2), 0]
            kind = self.r.choice(["hole", "boss", "pocket", "rib", "text", "around", "nested"])
            side = self.r.choice(["top", "bottom"])
            high = round(min(0.3 * thick, self.num(0.3, 1.5)), 2)
            if kind == "hole":
                hole = {"at": at, "diameter": max(0.6, round(room, 2)), "repeat": self.repeat(room)}
                holes.append(hole)
            elif kind in ("boss", "pocket"):
                f = {"kind": kind, "side": side, "at": at, "height" if kind == "boss" else "depth": high,
                     "repeat": self.repeat(2 * room)}
                if self.chance(0.5):
                    f["diameter"] = max(0.8, round(2 * room, 2))
                else:
                    f["outline"] = self.r.choice([self.star, self.keyhole, self.slot])(max(3, 2 * room))[0]
                features.append(f)
            elif kind == "nested":
                # Each stands on the one before it.
                wide, sunk = 1.2 * inner, self.chance(0.5)
                for k in range(self.r.randint(2, 4)):
                    f = {"kind": "pocket" if sunk else "boss", "side": side, "depth" if sunk else "height": high,
                         "diameter": round(wide, 2)}
                    if k:
                        f["on"] = k - 1
                    features.append(f)
                    wide, sunk = wide * self.r.uniform(0.5, 0.75), self.chance(0.6) != sunk
            elif kind == "rib":
                features.append({"kind": "rib", "side": side, "height": high, "at": at, "width": max(0.8, round(room, 2)),
                                 "to": [round(at[0] + 2 * room, 2), at[1]], "draft": 3,
                                 "repeat": {"along": "circle", "count": self.r.randint(2, 12)}})
            elif kind == "text":
                features.append({"kind": "text", "text": self.r.choice(["SHED", "tide 7", "S&M"]), "side": side,
                                 "width": round(1.1 * inner, 2), self.r.choice(["height", "depth"]): high})
            else:
                features.append({"kind": "text", "text": self.r.choice(["SALTMARSH", "SHED 7", "tide"]), "side": side,
                                 "size": max(1.5, round(0.18 * inner, 2)), "arc_diameter": round(1.2 * inner, 2),
                                 "arc": self.r.choice(["over", "under"]),
                                 self.r.choice(["height", "depth"]): high})
            if self.chance(0.3):
                features.append({"kind": "boss", "side": "top", "height": high, "diameter": 1.2,
                                 "repeat": {"along": "outline", "count": self.r.randint(3, 16), "inset": self.num(2, 3)}})
        cavities = self.r.choice([1, 1, 1, 2])
        return self.around(name, {"cavities": cavities}, part, holes, features), {}

    def stroked(self, name):
        """A plate with a drawing of lines on it, as wide as drawn or of a width of their own."""
        size = self.r.uniform(30, 80)
        paths = []
        for _ in range(self.r.randint(1, 3)):
            x, y = self.r.uniform(3, 21), self.r.uniform(3, 21)
            d = [f"M{x:.2f} {y:.2f}"]
            for _ in range(self.r.randint(1, 4)):
                u, v = self.r.uniform(3, 21), self.r.uniform(3, 21)
                if self.chance(0.4):
                    d.append(f"Q{self.r.uniform(3, 21):.2f} {self.r.uniform(3, 21):.2f} {u:.2f} {v:.2f}")
                else:
                    d.append(f"L{u:.2f} {v:.2f}")
            paths.append(f'<path d="{" ".join(d)}"/>')
        data = ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24" fill="none" stroke="black" '
                f'stroke-width="{self.num(1, 2.5)}">{"".join(paths)}</svg>')
        outline = {"shape": "file", "file": f"{name}.svg", "width": round(0.6 * size, 2)}
        if self.chance(0.5):
            outline["stroke"] = self.num(1.5, 4)
        part = {"thickness": self.num(2, 6), "outline": {"shape": "circle", "diameter": round(1.7 * size, 2)}}
        feature = {"kind": "boss", "side": self.r.choice(["top", "bottom"]), "height": self.num(0.4, 1), "outline": outline,
                   "draft": self.num(1, 5)}
        return self.around(name, {}, part, [], [feature]), {f"{name}.svg": data.encode()}


def upright(profile):
    """Whether a straight wall of a section runs along the axis."""
    ends = [profile["start"]] + [s["to"] for s in profile["steps"]]
    walls = zip(ends, ends[1:], profile["steps"])
    return any(p[0] == q[0] > 0 and p[1] != q[1] and "bulge" not in s for p, q, s in walls)


def svg(ring, rounds, maker):
    """A smooth ring through the points, holes in white."""
    n = len(ring)
    at = lambda p: f"{p[0]:.4f} {-p[1]:.4f}"
    path = f"M{at(ring[0])}"
    for i in range(n):
        p, q, r, s = (ring[(i + k) % n] for k in (-1, 0, 1, 2))
        kind = maker.r.random()
        if kind < 0.6:
            a = [q[k] + (r[k] - p[k]) / 6 for k in (0, 1)]
            b = [r[k] - (s[k] - q[k]) / 6 for k in (0, 1)]
            path += f" C{at(a)} {at(b)} {at(r)}"
        elif kind < 0.8:
            d = math.dist(q, r)
            path += f" A{d:.4f} {d:.4f} 0 0 0 {at(r)}"
        else:
            path += f" L{at(r)}"
    holes = "".join(f'<circle cx="{x:.4f}" cy="{-y:.4f}" r="{d:.4f}" fill="#ffffff"/>' for (x, y), d in rounds)
    return ('<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="-100 -100 200 200">'
            f'<g id="outline"><path d="{path} Z"/>{holes}</g></svg>\n').encode()


def dxf(ring, rounds, maker):
    """A polyline of lines and bulges, holes as circles; the header says millimetres."""
    out = ["0", "SECTION", "2", "HEADER", "9", "$INSUNITS", "70", "4", "0", "ENDSEC",
           "0", "SECTION", "2", "ENTITIES", "0", "LWPOLYLINE", "8", "outline", "90", str(len(ring)), "70", "1"]
    for x, y in ring:
        out += ["10", f"{x:.5f}", "20", f"{y:.5f}"]
        if maker.chance(0.5):
            out += ["42", f"{maker.num(-0.1, 0.3, 4)}"]
    for (x, y), d in rounds:
        out += ["0", "CIRCLE", "8", "outline", "10", f"{x:.5f}", "20", f"{y:.5f}", "40", f"{d:.5f}"]
    return ("\n".join(out + ["0", "ENDSEC", "0", "EOF"]) + "\n").encode()
