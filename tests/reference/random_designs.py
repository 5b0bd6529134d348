"""Parameter files of plate parts and adaptors, at random.

Reaches every section of the parameter file: all outline kinds, holes, all feature
kinds on both sides, edges, 1 to 4 cavities, direct sprues and runners, every thread
family, tapped and welded joints, both bolt styles, dowels or none, vents, materials,
adaptor plates with both patterns and all hole styles. Parts of other kinds: random_kinds.
"""
import json
import math
import random

FAMILIES = ["G {}", "Rp {}", "Rc {}", "{} NPT"]
SIZES = ["1/8", "1/4", "3/8", "1/2", "3/4", "1"]
PLASTICS = ["PP", "HDPE", "LDPE", "PS", "HIPS", "ABS", "PLA", "PETG", "PA6", "TPU"]
METALS = ["5083", "6082", "7075", "S235", "S275"]
SCREWS = ["M5", "M6", "M8", "M10"]
WORDS = ["SHED", "A", "tide 7", "S&M", "Knopf", "0.5", "ÆØÅ", "o"]


def toml(value):
    """A value as TOML text; dicts become inline tables."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + " }"
    return repr(value)


class Maker:
    def __init__(self, seed):
        self.r = random.Random(seed)
        # Drawn apart, so that what was drawn before stays as it is.
        self.plates = random.Random(f"plates {seed}")
        self.joints = random.Random(f"joints {seed}")
        self.outputs = random.Random(f"outputs {seed}")

    def num(self, low, high, digits=2):
        return round(self.r.uniform(low, high), digits)

    def chance(self, p):
        return self.r.random() < p

    def length(self, low, high):
        """A length, now and then as text with a unit."""
        v = self.num(low, high)
        kind = self.r.random()
        if kind < 0.05:
            return f"{v} mm"
        if kind < 0.08:
            return f"{round(v / 25.4, 3)} in"
        return v

    # ---- shapes: (table, inner radius about the origin, outer radius) ----

    def circle(self, size):
        return {"shape": "circle", "diameter": round(size, 2)}, size / 2, size / 2

    def rectangle(self, size):
        w, h = round(size, 2), round(size * self.r.uniform(0.45, 1.0), 2)
        t = {"shape": "rectangle", "width": w, "height": h}
        kind = self.r.random()
        if kind < 0.5:
            t["corner_radius"] = self.num(0.02 * h, 0.45 * h)
        elif kind < 0.75:
            t["corner_radius"] = [self.num(0, 0.4 * h) for _ in range(4)]
        return t, h / 2, math.hypot(w, h) / 2

    def slot(self, size):
        w = round(size * self.r.uniform(0.3, 0.9), 2)
        t = {"shape": "slot", "length": round(size, 2), "width": w}
        if self.chance(0.5):
            t["angle"] = self.num(-90, 90)
        return t, w / 2, size / 2

    def polygon(self, size):
        n = self.r.randint(3, 10)
        t = {"shape": "polygon", "sides": n}
        inner = size / 2 * math.cos(math.pi / n)
        if self.chance(0.4):
            t["across_flats"] = round(2 * inner, 2)
        else:
            t["diameter"] = round(size, 2)
        if self.chance(0.6):
            t["corner_radius"] = self.num(0.5, 0.4 * inner)
        if self.chance(0.5):
            t["angle"] = self.num(0, 90)
        return t, inner, size / 2

    def path(self, size):
        """A star-shaped ring of lines with fillets, bulges and arcs about a centre."""
        n = self.r.randint(4, 9)
        a0 = self.r.uniform(0, 1)
        ring = []
        for i in range(n):
            a = a0 + 2 * math.pi * (i + self.r.uniform(-0.15, 0.15)) / n
            d = size / 2 * self.r.uniform(0.7, 1.0)
            ring.append([round(d * math.cos(a), 3), round(d * math.sin(a), 3)])
        steps = []
        for i in range(1, n + 1):
            to = ring[i % n]
            step = {"to": to}
            kind = self.r.random()
            if kind < 0.35 and i < n:
                step["fillet"] = self.num(0.02 * size, 0.06 * size)
            elif kind < 0.6:
                step["bulge"] = self.num(0.05, 0.3, 4)
            elif kind < 0.7:
                step["bulge"] = self.num(-0.12, -0.03, 4)
            elif kind < 0.8:
                # An arc about a centre on the bisector, bulging outward.
                (x0, y0), (x1, y1) = ring[i - 1], to
                mx, my = (x0 + x1) / 2, (y0 + y1) / 2
                k = self.r.uniform(0.6, 1.5)
                step["centre"] = [mx - (y1 - y0) * k, my + (x1 - x0) * k]
                step["turn"] = "left"
            steps.append(step)
        if self.chance(0.3):
            steps.pop()  # closed with a line
        return {"shape": "path", "start": ring[0], "steps": steps}, 0.5 * size * 0.55, size * 0.6

    def outline(self, size):
        kinds = [self.circle, self.rectangle, self.slot, self.polygon, self.path]
        return self.r.choice(kinds)(size)

    # ---- sections ----

    def part(self, size):
        outline, inner, _ = self.outline(size)
        thick = self.num(1.5, 10)
        part = {"thickness": thick, "outline": outline}
        if self.chance(0.7):
            part["draft"] = self.num(0.5, 8)
        for edge in ("edge_bottom", "edge_top"):
            if self.chance(0.4):
                kind = self.r.choice(["chamfer", "radius"])
                part[edge] = {kind: self.num(0.2, 0.3 * min(thick, 5))}
        places = self.places(0.8 * inner)
        holes, features = [], []
        for at, room in places:
            kind = self.r.choice(["hole", "boss", "pocket", "rib", "text", "none"])
            side = self.r.choice(["top", "bottom"])
            depth = self.num(0.2, 0.4 * thick)
            if kind == "hole":
                hole = {"at": at}
                if self.chance(0.7):
                    hole["diameter"] = self.num(0.5 + 0.3 * room, 1.6 * room)
                else:
                    hole["outline"] = self.outline(1.4 * room)[0]
                holes.append(hole)
            elif kind in ("boss", "pocket"):
                f = {"kind": kind, "side": side, "at": at}
                f["height" if kind == "boss" else "depth"] = depth
                if self.chance(0.5):
                    f["diameter"] = self.num(0.8 * room, 1.6 * room)
                else:
                    f["outline"] = self.outline(1.5 * room)[0]
                if self.chance(0.4):
                    f["draft"] = self.num(1, 20)
                features.append(f)
            elif kind == "rib":
                a = self.r.uniform(0, 2 * math.pi)
                dx, dy = 0.6 * room * math.cos(a), 0.6 * room * math.sin(a)
                features.append({
                    "kind": "rib", "side": side, "height": depth,
                    "at": [round(at[0] - dx, 3), round(at[1] - dy, 3)],
                    "to": [round(at[0] + dx, 3), round(at[1] + dy, 3)],
                    "width": self.num(0.8, max(0.9, 0.5 * room)), "draft": self.num(1, 6),
                })
            elif kind == "text" and room > 4:
                word = self.r.choice(WORDS)
                features.append({
                    "kind": "text", "text": word, "side": side, "at": at,
                    "size": round(max(1.5, 1.6 * room / max(2, len(word))), 2),
                    self.r.choice(["height", "depth"]): round(min(depth, 0.8), 2),
                    "draft": self.num(5, 15), "angle": self.num(-90, 90),
                })
        if not holes and not features and inner > 12 and self.chance(0.6):
            width = self.num(1, 3)
            count = self.r.randint(1, 3)
            features.append({
                "kind": "waves", "side": self.r.choice(["top", "bottom"]),
                self.r.choice(["height", "depth"]): self.num(0.2, 0.25 * thick),
                "first_diameter": self.num(6, 10), "pitch": round(width * 1.8, 2),
                "count": count, "width": width, "draft": self.num(5, 20),
            })
        return part, holes, features

    def places(self, radius):
        """Disks inside a disk, free of each other: (centre, radius)."""
        out = []
        for _ in range(40):
            if len(out) >= 4 or radius < 4:
                break
            room = self.r.uniform(0.15, 0.45) * radius
            if room < 1.5:
                continue
            d, a = self.r.uniform(0.15 * radius, radius - room), self.r.uniform(0, 2 * math.pi)
            at = [round(d * math.cos(a), 2), round(d * math.sin(a), 2)]
            if all(math.dist(at, p) > room + q + 1.5 for p, q in out):
                out.append((at, room))
        return out[: self.r.randint(0, 4)]

    def mold(self, name):
        cavities = self.r.choice([1, 1, 1, 2, 2, 3, 4])
        size = self.r.uniform(14, 110 if cavities == 1 else 45)
        part, holes, features = self.part(size)
        return self.around(name, {"cavities": cavities}, part, holes, features)

    def around(self, name, mold, part, holes=(), features=()):
        """The text of a mold of `part`; `mold`: keys of its section that are settled."""
        cavities = mold.get("cavities", 1)
        plastic = {"kind": self.r.choice(PLASTICS)}
        if self.chance(0.4):
            plastic["shrinkage"] = f"{self.num(0.2, 2.5)} %"
        machine = {
            "barrel_bore": self.length(18, 45), "stroke": self.length(80, 250),
            "hand_force": self.num(150, 350, 0), "lever_ratio": self.num(5, 20, 1),
        }
        nozzle = {"thread": self.r.choice(FAMILIES).format(self.r.choice(SIZES[1:5]))}
        if self.chance(0.25):
            nozzle["joint"] = "welded"
            nozzle["fitting"] = self.r.choice(["socket", "cap", "nipple", "plug"])
            if self.chance(0.3):
                nozzle["fitting_locate"] = "scribe"
        elif self.chance(0.2):
            nozzle = self.seat()
        elif self.chance(0.2):
            nozzle = {"joint": "flange", "flange_size": self.r.choice(["M6", "M8"])}
        mold = dict(mold)
        if self.chance(0.5):
            mold["material"] = self.r.choice(METALS)
        if self.chance(0.2):
            mold["corner_radius"] = self.num(0, 12)
        if self.chance(0.2):
            mold["pry_slots"] = False
        if self.chance(0.2):
            mold["marks"] = False
        for key, low, high in [("thickness_a", 25, 70), ("thickness_b", 15, 60)]:
            if self.plates.random() < 0.3:
                whole = self.plates.random() < 0.6
                mold[key] = round(self.plates.uniform(low, high), 0 if whole else 1)
        feed = {}
        if cavities == 1 and self.chance(0.35):
            feed["direct"] = False
        if (cavities > 1 or feed) and self.chance(0.5):
            feed.update(runner_diameter=self.r.choice([4, 5, 6, 8]), gate_length=self.num(0.6, 2))
        if self.chance(0.2):
            feed["sprue_taper"] = self.num(1, 6)
        vents, bolts, dowels = {}, {}, {}
        if self.chance(0.3):
            vents["count"] = self.r.randint(0, 6)
        if self.chance(0.2):
            vents.update(depth=self.num(0.01, 0.06, 3), width=self.num(2, 8))
        if self.chance(0.4):
            bolts["style"] = self.r.choice(["tapped", "through"])
        if self.chance(0.3):
            bolts["size"] = self.r.choice(SCREWS)
        if self.chance(0.3):
            bolts["count"] = self.r.choice([2, 4, 6, 8])
        if self.chance(0.3):
            dowels["diameter"] = self.r.choice([0, 5, 6, 8])
        self.join(nozzle)
        if self.joints.random() < 0.3:
            bolts["lubrication"] = self.joints.choice(["paste", "oiled", "dry"])
        if self.joints.random() < 0.2:
            bolts["washers"] = self.joints.random() < 0.5
        if self.joints.random() < 0.3:
            mold["jack_screws"] = self.joints.random() < 0.7
        return self.text(
            [("job", {"name": name, "title": f"Random design {name}"}), ("plastic", plastic),
             ("machine", machine), ("nozzle", nozzle), ("mold", mold), ("feed", feed),
             ("vents", vents), ("bolts", bolts), ("dowels", dowels), ("output", self.output()),
             ("part", part)],
            [("part.hole", holes), ("part.feature", features)],
        )

    def seat(self):
        """A nozzle that is pressed on: round or conical tip."""
        seat = {"joint": "seat", "tip_diameter": self.num(13, 20, 1)}
        if self.chance(0.5):
            seat["tip_radius"] = self.num(9, 25, 1)
        else:
            seat.update(seat="cone", tip_angle=self.r.choice([60, 82, 90, 118]))
        return seat

    def join(self, nozzle):
        """How a tapped joint's nozzle ends and seals, from numbers of its own."""
        if "thread" not in nozzle or "joint" in nozzle:
            return
        r = self.joints
        if r.random() < 0.3:
            nozzle["end"] = r.choice(["thread", "tip"])
        if r.random() < 0.2:
            nozzle["sealing"] = r.choice(["copper ring", "metal"])
        if r.random() < 0.2:
            nozzle["reach"] = round(r.uniform(6, 30), 1)
        if nozzle["thread"].startswith("G") and r.random() < 0.3:
            nozzle["port"] = "DIN 3852-2"

    def adaptor(self, name):
        i = self.r.randrange(len(SIZES))
        nozzle = {"thread": self.r.choice(FAMILIES).format(SIZES[i])}
        mouth = [10, 14, 17, 21, 27, 34][i]
        if self.chance(0.15):
            nozzle, mouth = self.seat(), 22
        self.join(nozzle)
        adaptor = {"style": self.r.choice(["clearance", "counterbored", "countersunk", "tapped"])}
        screw = self.r.choice(SCREWS[:3])
        adaptor["size"] = screw
        clear = mouth + 2.4 * float(screw[1:]) + self.num(6, 20)
        if self.chance(0.5):
            # Room between neighbours on the circle.
            n = self.r.randint(2, 8)
            d = max(clear, n * 2.5 * float(screw[1:]) / math.pi)
            adaptor["pattern"] = {
                "pattern": "circle", "count": n, "diameter": round(d, 1),
                "angle": self.num(-180, 180),
            }
        else:
            adaptor["pattern"] = {
                "pattern": "grid", "columns": 2, "rows": self.r.choice([2, 2, 4]),
                "pitch_x": round(clear, 1), "pitch_y": round(clear * self.r.uniform(0.8, 1.3), 1),
            }
        if self.chance(0.5):
            adaptor["thickness"] = self.num(12, 40, 1)
        if self.chance(0.4):
            adaptor["bore"] = self.num(2, 0.5 * mouth, 1)
        if "joint" not in nozzle and self.chance(0.3):
            adaptor["spigot_diameter"] = round(0.9 * mouth, 1)
        if self.chance(0.4):
            adaptor["material"] = self.r.choice(METALS)
        if self.chance(0.3):
            far = 2.2 * clear + 30
            adaptor["outline"] = self.circle(far)[0] if self.chance(0.5) else self.rectangle(far)[0]
        return self.text(
            [("job", {"name": name, "kind": "adaptor"}), ("nozzle", nozzle),
             ("adaptor", adaptor), ("output", self.output(adaptor=True))], [],
        )

    def output(self, adaptor=False):
        out = {}
        if self.chance(0.5):
            out["dxf_version"] = self.r.choice(["R12", "R2000"])
        if self.chance(0.4):
            out["chord_tolerance"] = self.num(0.005, 0.08, 3)
        if self.outputs.random() < 0.3:
            out["thread_form"] = True
        if not adaptor:
            out["fill"] = self.r.choices(["off", "quick", "full"], [1, 6, 3])[0]
        return out

    @staticmethod
    def text(sections, lists):
        lines = []
        for name, table in sections:
            if table:
                lines.append(f"[{name}]")
                lines += [f"{k} = {toml(v)}" for k, v in table.items()]
        for name, tables in lists:
            for table in tables:
                lines.append(f"[[{name}]]")
                lines += [f"{k} = {toml(v)}" for k, v in table.items()]
        return "\n".join(lines) + "\n"
