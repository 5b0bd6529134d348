"""The report page.

Source of truth: the HTML parser of Python's library (tags close in order), WHATWG HTML
(void elements; ids are unique, links within the page lead somewhere), RFC 4648 as in
Python's base64; the volume and box of the solids as in design.json and the STL files.
"""
import base64
import html.parser
import io
import json

import numpy as np
import pytest
import trimesh
from PIL import Image
from packages import each, PACKAGES

VOID = {"meta", "br", "input", "hr", "img", "link"}
FETCHING = {"src", "srcset", "action", "data", "poster", "background"}
LARGEST_COASTER = 1_500_000


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.open, self.faults, self.ids, self.links, self.data = [], [], [], [], ""
        self.tags, self.pictures = set(), []
        self.feed(text)
        self.close()

    def look(self, tag, attributes):
        self.tags.add(tag)
        for name, value in attributes:
            # A picture stands in the page itself.
            if tag == "img" and name == "src" and value.startswith("data:image/png;base64,"):
                self.pictures.append(base64.b64decode(value.split(",")[1], validate=True))
            elif name in FETCHING or (value or "").lower().startswith(("http", "//")):
                self.faults.append(f"{tag} {name}={value}")
            if name == "id":
                self.ids.append(value)
            if name == "href":
                self.links.append(value)

    def handle_starttag(self, tag, attributes):
        self.look(tag, attributes)
        if tag not in VOID:
            self.open.append((tag, dict(attributes)))

    def handle_startendtag(self, tag, attributes):
        self.look(tag, attributes)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop()[0] != tag:
            self.faults.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, text):
        if self.open and self.open[-1][1].get("id") == "bodies":
            self.data += text


@pytest.fixture(scope="module", params=PACKAGES, ids=lambda p: p.name)
def report(request):
    text = request.param.file("report.html").read_text(encoding="utf-8")
    return request.param, text, Page(text)


def test_well_formed_and_fetches_nothing(report):
    _, text, page = report
    assert page.faults == []
    assert page.open == []
    assert not page.tags & {"link", "iframe", "object", "embed", "base", "form"}
    assert "default-src 'none'" in text


def test_the_still_picture_shows_something(report):
    _, _, page = report
    picture, = page.pictures
    with Image.open(io.BytesIO(picture)) as image:
        alpha = np.asarray(image.convert("RGBA"))[:, :, 3]
    assert 0.05 < (alpha > 127).mean() < 0.95


def test_ids_are_unique_and_links_lead_somewhere(report):
    package, _, page = report
    assert len(page.ids) == len(set(page.ids))
    assert page.links
    for link in page.links:
        if link.startswith("#"):
            assert link[1:] in page.ids
        else:
            assert (package.folder / link).is_file()


def test_solids_are_those_of_the_package(report):
    package, _, page = report
    bodies = json.loads(page.data)
    assert {p["name"] for p in package.plates} <= {b["key"] for b in bodies}
    for body in bodies:
        raw = np.frombuffer(base64.b64decode(body["points"], validate=True), "<u2")
        points = raw.reshape(-1, 3) * body["step"] + np.array(body["origin"])
        kind = {2: "<u2", 4: "<u4"}[body["width"]]
        faces = np.frombuffer(base64.b64decode(body["triangles"], validate=True), kind)
        edges = np.frombuffer(base64.b64decode(body["edges"], validate=True), kind)
        assert faces.max() < len(points) and edges.max() < len(points)
        mesh = trimesh.Trimesh(points, faces.reshape(-1, 3), process=False)
        assert mesh.is_watertight
        # The triangles of each feature stand together.
        runs = sorted((f["from"], f["count"]) for f in body["features"] if f["count"])
        assert all(a + n <= b for (a, n), (b, _) in zip(runs, runs[1:]))
        assert sum(runs[-1]) <= len(mesh.faces) if runs else True
        if body["key"].startswith("hardware-"):
            assert mesh.volume > 0
            continue
        fact = package.facts[body["key"]]
        # Half a step on every face at most.
        assert abs(mesh.volume - fact["volume_mm3"]) <= mesh.area * body["step"] / 2
        if package.whole(body["key"]):
            stl = trimesh.load(package.file(f"{body['key']}.stl"))
            assert np.abs(mesh.bounds - stl.bounds).max() <= body["step"]


@each([p for p in PACKAGES if p.name == "coaster"])
def test_the_coaster_page_is_small(package):
    assert package.file("report.html").stat().st_size <= LARGEST_COASTER
