"""The drawings as SVG.

Source of truth: the XML parser of Python's library (well-formed), svgpathtools (every
path can be read and is finite), SVG 1.1: size in millimetres equal to the viewBox, so
that a print at 100 % is to scale. No drawing may fetch anything from outside.
"""
import re
import xml.etree.ElementTree as ElementTree

import pytest
from packages import each_plate, PACKAGES
from svgpathtools import parse_path

SVG = "{http://www.w3.org/2000/svg}"
# ISO 216: the A sizes, mm.
SHEETS = {(210, 297), (297, 420), (420, 594), (594, 841), (841, 1189)}


def test_there_is_something_to_check():
    assert PACKAGES


def root(package, plate):
    return ElementTree.parse(package.file(f"{plate['name']}.svg")).getroot()


@each_plate()
def test_well_formed_and_to_scale(package, plate):
    top = root(package, plate)
    assert top.tag == SVG + "svg"
    width, height = (re.fullmatch(r"([\d.]+)mm", top.get(k))[1] for k in ("width", "height"))
    x, y, w, h = map(float, top.get("viewBox").split())
    assert (float(width), float(height)) == pytest.approx((w, h))
    assert tuple(sorted((round(w), round(h)))) in SHEETS


@each_plate()
def test_every_path_can_be_read_and_lies_on_the_sheet(package, plate):
    top = root(package, plate)
    x, y, w, h = map(float, top.get("viewBox").split())
    seen = 0
    # Only lettering may be turned: else the positions below would say nothing.
    assert {e.tag for e in top.iter() if "transform" in e.attrib} <= {SVG + "text"}
    for e in top.iter(SVG + "path"):
        path = parse_path(e.get("d"))
        assert len(path) > 0
        x0, x1, y0, y1 = path.bbox()
        assert x - 1 <= x0 <= x1 <= x + w + 1 and y - 1 <= y0 <= y1 <= y + h + 1
        seen += 1
    assert seen or list(top.iter(SVG + "line")) or list(top.iter(SVG + "polyline"))


@each_plate()
def test_nothing_is_fetched(package, plate):
    text = package.file(f"{plate['name']}.svg").read_text(encoding="utf-8")
    for found in re.findall(r"""(?:href|src)\s*=\s*["']([^"']*)|url\(([^)]*)\)""", text):
        target = "".join(found).strip("\"' ")
        assert target.startswith(("#", "data:")), target
    assert "<script" not in text


@each_plate()
def test_every_tag_and_the_release_state_are_written(package, plate):
    words = " ".join("".join(e.itertext()) for e in root(package, plate).iter(SVG + "text"))
    for feature in plate["features"]:
        assert re.search(rf"\b{feature['tag']}\b", words), feature["tag"]
    assert ("NOT RELEASED" in words) == (not package.design["released"])
    assert package.design["revision"] in words
