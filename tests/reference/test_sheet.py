"""The machining sheet, as page and as table, against design.json: every feature once.

Source of truth: the HTML standard's parsing rules (html5lib, strict: any parse error
fails), RFC 4180 (Python's csv), the features in design.json, and the safety promise
that a package with a `stop` finding says NOT RELEASED wherever metal could be cut by it.
"""
import collections
import csv
import html.parser
import math
import re

import ezdxf
import html5lib
import pytest
from packages import PACKAGES, each, each_plate

FETCHING = {"src", "href", "srcset", "data", "action", "poster", "xlink:href"}


def test_there_is_something_to_check():
    assert PACKAGES


def page(package):
    return package.file("machining-sheet.html").read_text(encoding="utf-8")


def rows(package):
    with package.file("machining-sheet.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f, strict=True))


def of(package, plate, record):
    names = {plate["name"], plate["title"]}
    return [r for r in rows(package) if r["record"] == record and r["plate"] in names]


class Links(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.targets, self.tags = [], collections.Counter()

    def handle_starttag(self, tag, attrs):
        self.tags[tag] += 1
        self.targets += [v or "" for k, v in attrs if k in FETCHING]


@each()
def test_the_page_is_well_formed_and_fetches_nothing(package):
    text = page(package)
    html5lib.HTMLParser(strict=True).parse(text)
    links = Links()
    links.feed(text)
    assert all(t.startswith(("#", "data:")) for t in links.targets), links.targets
    assert not links.tags["script"] and not links.tags["iframe"] and not links.tags["link"]
    assert "@import" not in text
    assert all(u.strip("\"' ").startswith(("#", "data:")) for u in re.findall(r"url\(([^)]*)\)", text))


@each()
def test_not_released_is_said_exactly_when_a_stop_stands(package):
    stops = [f for f in package.design["findings"] if f["level"] == "stop"]
    assert package.design["released"] == (not stops)
    assert ("NOT RELEASED" in page(package)) == bool(stops)
    listed = [r for r in rows(package) if r["record"] == "finding stop"]
    assert len(listed) == len(stops)
    for f in package.design["findings"]:
        assert any(r["record"] == f"finding {f['level']}" and r["what"] == f["what"] for r in rows(package))


@each_plate()
def test_every_hole_has_its_steps_place_and_size(package, plate):
    holes = {f["tag"]: f for f in plate["features"] if f["shape"] == "hole"}
    table = collections.defaultdict(list)
    for r in of(package, plate, "hole"):
        table[r["tag"]].append(r)
    assert set(table) == set(holes)
    for tag, f in holes.items():
        x, y = f["at"][0] - plate["datum"][0], f["at"][1] - plate["datum"][1]
        x = -x if f["face"] == "low" else x
        assert len(table[tag]) == len(f["steps"])
        for r, s in zip(table[tag], f["steps"]):
            assert (float(r["x"]), float(r["y"])) == pytest.approx((x, y), abs=5.1e-5)
            assert r["what"].endswith(s["step"])
            # A thread is named by its designation, everything else by its diameter.
            assert r["thread"] == s.get("thread", "")
            if s["step"] == "tap":
                assert r["thread"] and r["diameter"] == ""
            else:
                size = s.get("dia", s.get("dia_face"))
                assert float(r["diameter"]) == pytest.approx(size, abs=5.1e-4), (tag, s)
            depth = s.get("depth")
            if depth == "through":
                assert r["depth"] == "through"
            elif s["step"] == "dish":
                r0 = s["radius"]
                deep = r0 - (r0 * r0 - s["dia"] ** 2 / 4) ** 0.5
                assert float(r["depth"]) == pytest.approx(deep, abs=5.1e-4), (tag, s)
            elif s["step"] == "groove":
                assert float(r["depth"]) == pytest.approx(s["to"], abs=5.1e-4), (tag, s)
            elif s["step"] != "countersink":
                depth = depth["blind"] if isinstance(depth, dict) else depth
                assert float(r["depth"]) == pytest.approx(depth, abs=5.1e-4), (tag, s)


@each_plate()
def test_every_other_feature_has_one_row(package, plate):
    others = [f["tag"] for f in plate["features"] if f["shape"] != "hole"]
    listed = [r["tag"] for r in of(package, plate, "feature")]
    assert sorted(listed) == sorted(others)


@each_plate()
def test_every_feature_is_made_by_an_operation_and_no_operation_makes_another(package, plate):
    tags = [f["tag"] for f in plate["features"]]
    assert len(tags) == len(set(tags))
    made = {t for r in of(package, plate, "operation") for t in r["tag"].split()}
    assert made == set(tags)
    numbers = [int(r["number"]) for r in of(package, plate, "operation")]
    assert numbers == sorted(set(numbers)), "operations in order, each once"


@each_plate()
def test_every_hole_step_has_its_operation(package, plate):
    """As many operations as steps name a hole (a pilot drill may come on top)."""
    count = collections.Counter(
        t for r in of(package, plate, "operation") for t in r["tag"].split()
    )
    for f in plate["features"]:
        if f["shape"] == "hole":
            assert count[f["tag"]] >= len(f["steps"]), f["tag"]


@each_plate()
def test_the_cut_file_shows_every_feature_and_no_other(package, plate):
    doc = ezdxf.readfile(package.file(f"{plate['name']}.dxf"))
    shown = {
        e.get_xdata("PLATEWRIGHT")[0].value
        for e in doc.modelspace()
        if e.has_xdata("PLATEWRIGHT")
    } - {""}
    assert shown == {f["tag"] for f in plate["features"]}


@each_plate()
def test_speeds_are_within_the_spindle(package, plate):
    for r in of(package, plate, "operation"):
        for key in ("rpm", "feed_mm_per_min"):
            assert r[key] == "" or float(r[key]) > 0, r


# Cutting speed of HSS, m/min, from to, and feed by diameter. Drilling in aluminium 200–300
# sfm, mild steel 80–110 sfm (studylib 18232362, a machining guide; machinistpost.com), feeds
# protocutter.com; milling in aluminium 60–100, mild steel 23–35 (Mechanical Engineers Data
# Handbook p. 187; scribd 615349553), feed per tooth phantom.eu; reaming at half the speed of
# drilling and twice its feed (scribd 476105672).
HANDBOOK = {
    ("aluminium", "drill"): ((61, 91), [(3, 0.10), (12, 0.25)]),
    ("steel", "drill"): ((24, 34), [(1, 0.05), (6, 0.125), (13, 0.25)]),
    ("aluminium", "end mill"): ((60, 100), [(3, 0.03), (12, 0.10)]),
    ("steel", "end mill"): ((23, 35), [(4, 0.03), (12, 0.065)]),
    ("aluminium", "machine reamer"): ((30, 60), [(5, 0.2), (20, 0.4)]),
    ("steel", "machine reamer"): ((12, 20), [(5, 0.15), (20, 0.30)]),
}
# Speed and feed left at 3, 4, 5 and 6 diameters deep (studylib 18232362, scribd 329300769).
DEEP = [(6, 0.65, 0.8), (5, 0.7, 0.8), (4, 0.8, 0.9), (3, 0.9, 0.9), (0, 1, 1)]
# 5083 is gummier: 0.7 to 0.8 of the speed of 6082 (steelalloys.blogspot.com).
GUMMY = {"5083": 0.75}
# A full slot is milled 40 % slower (scribd 615349553).
SLOT = 0.6
TOOL, HOLE, WAY_IN = 2.0, 0.3, 2.0


def feed_of(points, dia):
    """Linear between the points, in proportion below the first, level above the last."""
    if dia <= points[0][0]:
        return points[0][1] * dia / points[0][0]
    for (d0, f0), (d1, f1) in zip(points, points[1:]):
        if dia <= d1:
            return f0 + (f1 - f0) * (dia - d0) / (d1 - d0)
    return points[-1][1]


def spindles(package):
    """Speeds of each machine as decided: 1/min, ascending."""
    found = {}
    for d in package.design["decisions"]:
        m = re.fullmatch(r"shop\.(drill_press|mill|cnc|lathe)_speeds", d["key"])
        if m:
            numbers = [float(n) for n in re.findall(r"[\d.]+", d["value"].removesuffix("1/min"))]
            found[m[1].replace("_", " ")] = sorted(numbers)
    return found


def reach(plate, step):
    """How deep a drill goes with its point."""
    thickness = plate["z_high"] - plate["z_low"]
    if step["depth"] == "through":
        return thickness
    point = step["dia"] / 2 / math.tan(math.radians(step["point_deg"]) / 2)
    return step["depth"]["blind"] + (point if step["point_deg"] < 180 else 0)


def steps_made(plate, row, dia):
    """The drilled steps of this size of the holes that an operation names."""
    tags = row["tag"].split()
    found = []
    for f in plate["features"]:
        if f["tag"] in tags and f["shape"] == "hole":
            drilled = [s for s in f["steps"] if s["step"] == "drill"]
            exact = [s for s in drilled if abs(s["dia"] - dia) < 1e-6]
            # A pilot goes as deep as the drill that follows it, which it names.
            after = re.match(r"pilot ø[\d.]+ for ø([\d.]+):", row["what"])
            wider = [s for s in drilled if after and abs(s["dia"] - float(after[1])) < 1e-3]
            found += wider or exact
    return found


@each_plate()
def test_speeds_and_feeds_are_those_of_the_handbook_within_the_machine(package, plate):
    metal = "steel" if plate["material"].startswith("S") else "aluminium"
    factor = GUMMY.get(plate["material"], 1)
    ranges = spindles(package)
    checked = 0
    for r in of(package, plate, "operation"):
        tool = re.match(r"(drill|end mill|machine reamer) ø([\d.]+)", r["tool"])
        if not tool or r["rpm"] == "":
            continue
        kind, dia = tool[1], float(tool[2])
        (low, high), points = HANDBOOK[metal, kind]
        if kind == "drill":
            deepest = max(reach(plate, s) for s in steps_made(plate, r, dia))
            # On the border of a row either row is right.
            rows = {next(d for d in DEEP if deepest * by >= d[0] * dia) for by in (1 - 1e-9, 1 + 1e-9)}
            choices = [(factor * d[1], d[2]) for d in rows]
        else:
            choices = [(factor, 1.0), (factor * SLOT, 1.0)] if kind == "end mill" else [(factor, 1.0)]
        rpm, feed = float(r["rpm"]), float(r["feed_mm_per_min"])
        from_, to = (float(n) for n in r["rpm_wanted"].split(" to "))
        teeth = 2 if kind == "end mill" else 1
        good = False
        for speed, fed in choices:
            want = [1000 * v * speed / (math.pi * dia) for v in (low, high)]
            if (from_, to) != pytest.approx(want, abs=0.51):
                continue
            known = ranges.get(r["machine"])
            if known and len(known) == 2:
                middle = min(max(sum(want) / 2, known[0]), known[-1])
                assert rpm == pytest.approx(middle, abs=5.01), r
            elif known:
                assert rpm in known and (rpm <= sum(want) / 2 * 1.001 or rpm == known[0]), r
            assert feed == pytest.approx(rpm * teeth * fed * feed_of(points, dia), abs=0.51), r
            good = True
        assert good, (r, choices)
        checked += 1
    if any(f["shape"] == "hole" for f in plate["features"]):
        assert checked


@each_plate()
def test_drilling_times_are_handling_and_the_way_at_the_feed(package, plate):
    for r in of(package, plate, "operation"):
        tool = re.match(r"drill ø([\d.]+)", r["tool"])
        feed = float(r["feed_mm_per_min"] or 0)
        if r["tool"].startswith("spot drill"):
            ways = [2.0] * len(r["tag"].split())
        elif tool:
            ways = [reach(plate, s) for s in steps_made(plate, r, float(tool[1]))]
            assert ways, r
        else:
            continue
        cutting = sum(w + WAY_IN for w in ways) / feed if feed else 0.0
        assert float(r["minutes"]) == pytest.approx(TOOL + HOLE * len(ways) + cutting, abs=0.06 + 0.01 * cutting), r


@each_plate()
def test_every_spindle_operation_names_a_machine_at_hand(package, plate):
    ranges = spindles(package)
    for r in of(package, plate, "operation"):
        if r["rpm"] and r["machine"]:
            known = ranges[r["machine"]]
            assert known[0] <= float(r["rpm"]) <= known[-1], r
