"""The machining sheet, as page and as table, against design.json: every feature once.

Source of truth: the HTML standard's parsing rules (html5lib, strict: any parse error
fails), RFC 4180 (Python's csv), the features in design.json, and the safety promise
that a package with a `stop` finding says NOT RELEASED wherever metal could be cut by it.
"""
import collections
import csv
import html.parser
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
