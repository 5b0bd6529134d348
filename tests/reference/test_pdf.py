"""The PDF files, measured by pdfplumber: sizes, scale, letters, fonts.

Source of truth: ISO 216 (A4, A3, A2, A1), ISO 3098-1 (least height of letters 2.5 mm),
design.json for the true sizes, and what a printer needs: nothing beyond the sheet,
no text over another, every font inside the file.
"""
import collections
import os

import pdfplumber
import pytest
from packages import MOLDS, PACKAGES, each, each_plate, some
from pdfminer.pdftypes import resolve1
from printed import CAPITALS, MM, ink, lines_of_text

SHEETS = {(210, 297), (297, 420), (420, 594), (594, 841)}
# Seen as "overlap" when two boxes of ink share more than this, mm.
TOUCH = 0.15


def test_there_is_something_to_check():
    assert PACKAGES


# As many as are worth the time: the templates and some random designs, more of them at night.
NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
CHOSEN = some(100 if NIGHTLY else 12)
FILES = ["drawings.pdf", "drill-templates.pdf", "machining-sheet.pdf"]


def turned(package):
    """A bar that is turned: there is no plate to lay a template on."""
    return any(f["shape"] == "outside" for plate in package.plates for f in plate["features"])


FLAT = [p for p in CHOSEN if not turned(p)]


def files():
    return pytest.mark.parametrize(
        "package, name",
        [pytest.param(p, f, id=f"{p.name}/{f}") for p in CHOSEN for f in FILES
         if f != "drill-templates.pdf" or p in FLAT]
        + [pytest.param(p, "process-card.pdf", id=f"{p.name}/card") for p in CHOSEN if p in MOLDS],
    )


@files()
def test_pages_are_iso_sheets_and_letters_are_inside_apart_and_high_enough(package, name):
    with pdfplumber.open(package.file(name)) as pdf:
        assert pdf.pages
        for number, page in enumerate(pdf.pages, 1):
            w, h = page.width * MM, page.height * MM
            assert tuple(sorted((round(w), round(h)))) in SHEETS
            assert abs(w - round(w)) < 0.05 and abs(h - round(h)) < 0.05
            runs = lines_of_text(page)
            assert runs, "a sheet says something"
            boxes = [(r, ink(r)) for r in runs]
            for r, (x0, y0, x1, y1) in boxes:
                where = f"page {number}: {r['text']!r}"
                assert r["size"] * CAPITALS >= 2.5 - 1e-3, where
                assert x0 >= 5 and y0 >= 5 and x1 <= w - 5 and y1 <= h - 5, where
            # Sweep from the left: only neighbours are compared.
            boxes.sort(key=lambda b: b[1][0])
            for i, (r, a) in enumerate(boxes):
                for q, b in boxes[i + 1:]:
                    if b[0] > a[2]:
                        break
                    across = min(a[2], b[2]) - max(a[0], b[0])
                    up = min(a[3], b[3]) - max(a[1], b[1])
                    assert across < TOUCH or up < TOUCH, (
                        f"page {number}: {r['text']!r} over {q['text']!r} by {across:.2f} x {up:.2f}"
                    )


@files()
def test_fonts_are_embedded_and_nothing_is_dated(package, name):
    with pdfplumber.open(package.file(name)) as pdf:
        assert "CreationDate" not in pdf.metadata and "ModDate" not in pdf.metadata
        assert pdf.metadata.get("Title")
        seen = 0
        for page in pdf.pages:
            for font in resolve1(page.page_obj.resources["Font"]).values():
                for below in resolve1(resolve1(font)["DescendantFonts"]):
                    assert "FontFile2" in resolve1(resolve1(below)["FontDescriptor"])
                    seen += 1
        assert seen


def template_pages(package):
    with pdfplumber.open(package.file("drill-templates.pdf")) as pdf:
        yield from pdf.pages


def straight(page):
    """Straight pieces: x0, y0, x1, y1 in mm, y up."""
    for line in page.lines:
        yield tuple(v * MM for v in (line["x0"], line["y0"], line["x1"], line["y1"]))


@each(CHOSEN)
def test_only_a_plate_has_templates(package):
    assert any(str(f).endswith("drill-templates.pdf") for f in package.folder.rglob("*.pdf")) == (package in FLAT)


@each(FLAT)
def test_every_template_has_rulers_of_150_mm_in_both_directions(package):
    for page in template_pages(package):
        pieces = list(straight(page))
        level = max((b[2] - b[0] for b in pieces if abs(b[3] - b[1]) < 0.01 and abs(b[2] - b[0] - 150) < 1), default=0)
        up = max((b[3] - b[1] for b in pieces if abs(b[2] - b[0]) < 0.01 and abs(b[3] - b[1] - 150) < 1), default=0)
        assert abs(level - 150) < 0.05 and abs(up - 150) < 0.05
        text = page.extract_text()
        assert "100 %" in text
        assert ("NOT RELEASED" in text) == (not package.design["released"])


def crosses(page):
    """Centres of cross-hairs: a level and an upright piece of equal length that halve each other."""
    level, upright = collections.defaultdict(list), collections.defaultdict(list)
    for x0, y0, x1, y1 in straight(page):
        mid = (round((x0 + x1) / 2, 2), round((y0 + y1) / 2, 2))
        if abs(y1 - y0) < 1e-3:
            level[mid].append(x1 - x0)
        elif abs(x1 - x0) < 1e-3:
            upright[mid].append(y1 - y0)
    return [p for p, lengths in level.items()
            if any(abs(a - b) < 0.02 for a in lengths for b in upright.get(p, []))]


@each(FLAT)
def test_hole_centres_stand_at_their_true_distance(package):
    """Plates on one sheet: the pattern of crosses is that of design.json, to 0.05 mm."""
    sheets = [(p.extract_text(), sorted(crosses(p))) for p in template_pages(package)]
    for plate in package.plates:
        for face in ("low", "high"):
            holes = [f for f in plate["features"] if f["shape"] == "hole" and f["face"] == face]
            # The first line names plate and sheet; faces are told apart by their tags.
            mine = [got for t, got in sheets if plate["title"] in t.splitlines()[0]
                    and "sheet 1 of 1" in t.splitlines()[0] and all(f["tag"] in t.split() for f in holes)]
            if len(holes) < 2 or not mine:
                continue
            sign = -1 if face == "low" else 1
            want = sorted((round(sign * f["at"][0], 3), round(f["at"][1], 3)) for f in holes)
            want = sorted(set(want))
            best = None
            for got in mine:
                # The first cross that lies like the first hole fixes the place of the sheet.
                for ox, oy in got:
                    dx, dy = ox - want[0][0], oy - want[0][1]
                    off = [min(((x + dx - gx) ** 2 + (y + dy - gy) ** 2) ** 0.5 for gx, gy in got)
                           for x, y in want]
                    best = max(off) if best is None else min(best, max(off))
            assert best is not None and best < 0.05, (plate["name"], face, best)


@pytest.mark.parametrize("package", MOLDS, ids=lambda p: p.name)
def test_the_process_card_is_one_sheet(package):
    with pdfplumber.open(package.file("process-card.pdf")) as pdf:
        assert len(pdf.pages) == 1


@each_plate()
def test_the_drawing_has_its_revision_and_every_tag(package, plate):
    with pdfplumber.open(package.file("drawings.pdf")) as pdf:
        words = {w["text"].strip("(),;:") for p in pdf.pages for w in p.extract_words()}
        text = "\n".join(p.extract_text() for p in pdf.pages)
    for f in plate["features"]:
        assert f["tag"] in words, f["tag"]
    assert package.design["revision"] in text
    assert ("NOT RELEASED" in text) == (not package.design["released"])
