"""The cut sheet for a profile-cutting service, read by ezdxf and measured by shapely.

Source of truth: design.json (plates, holes), the kerf asked for, the rule that a beam pierces
in the scrap and that plates do not touch. PLATEWRIGHT_PROGRAM makes its own packages here,
because most designs name no cutting service.
"""
import json
import os
import pathlib
import subprocess

import ezdxf
import ezdxf.path
import pytest
from packages import PROGRAM, TEMPLATES
from shapely.geometry import Point, Polygon

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)

KERF = 0.4
# Template, service, sheet: a plate that fits only when it is turned; one sheet for each plate.
CASES = [("adaptor", "laser", None), ("coaster", "waterjet", None), ("keyring", "plasma", None),
         ("keyring", "laser", (130, 260)), ("coaster", "plasma", (200, 200))]


@pytest.fixture(scope="module", params=CASES, ids=lambda c: f"{c[0]}-{c[1]}-{c[2]}")
def package(request, tmp_path_factory):
    template, service, size = request.param
    folder = tmp_path_factory.mktemp(template)
    file = folder / f"{template}.toml"
    text = (TEMPLATES / f"{template}.toml").read_text(encoding="utf-8")
    sheet = f"sheet_width = {size[0]}\nsheet_height = {size[1]}\n" if size else ""
    file.write_text(
        f'{text}\n[shop]\nmachines = ["drill press", "mill", "{service}"]\n{sheet}'
        f'[output]\nfill = "off"\nkerf = {KERF}\n', encoding="utf-8")
    done = subprocess.run(
        [pathlib.Path(PROGRAM).resolve(), "make", file, "--out", folder / "out", "--quiet"],
        stdin=subprocess.DEVNULL, capture_output=True, check=False, env=dict(os.environ))
    assert done.returncode in (0, 1), done.stderr
    made = next((folder / "out").iterdir())
    design = json.loads((made / "design.json").read_text(encoding="utf-8"))
    sheets = [ezdxf.readfile(p) for p in sorted(made.glob("cut-sheet*.dxf"))]
    assert sheets
    return design, sheets, size


def shapes(doc, layer):
    out = []
    for e in doc.modelspace():
        if e.dxf.layer == layer:
            points = [(p.x, p.y) for p in ezdxf.path.make_path(e).flattening(0.002)]
            out.append(Polygon(points))
    return out


def test_the_files_are_sound(package):
    for doc in package[1]:
        audit = doc.audit()
        assert not audit.errors and not audit.fixes
        assert {e.dxf.layer for e in doc.modelspace()} <= {"CUT_INNER", "CUT_OUTER", "LEAD_IN", "MARK"}


def test_plates_are_larger_by_the_kerf_and_stand_apart(package):
    design, sheets, _ = package
    outer = [p for doc in sheets for p in shapes(doc, "CUT_OUTER")]
    assert len(outer) == len(design["plates"])
    sizes = sorted(tuple(sorted((round(b[2] - b[0], 2), round(b[3] - b[1], 2)))) for b in (p.bounds for p in outer))
    want = []
    for plate in design["plates"]:
        x = [v["at"][0] for v in plate["outline"]["outer"]]
        y = [v["at"][1] for v in plate["outline"]["outer"]]
        if all(v["bulge"] == 0 or abs(v["bulge"]) < 0.42 for v in plate["outline"]["outer"]):
            w, h = max(x) - min(x) + KERF, max(y) - min(y) + KERF
            want.append(tuple(sorted((round(w, 2), round(h, 2)))))
    assert len(sizes) == len(want)
    for got, right in zip(sizes, sorted(want)):
        assert got == pytest.approx(right, abs=0.02)
    for doc in sheets:
        on = shapes(doc, "CUT_OUTER")
        for i, a in enumerate(on):
            for b in on[i + 1:]:
                assert a.distance(b) >= 10 - 1e-6 - KERF


def test_every_hole_is_cut_to_size_or_marked(package):
    design, sheets, _ = package
    cut = sorted(round(e.dxf.radius, 3) for doc in sheets for e in doc.modelspace()
                 if e.dxf.layer == "CUT_INNER" and e.dxftype() == "CIRCLE")
    marks = sum(1 for doc in sheets for e in doc.modelspace() if e.dxf.layer == "MARK")
    holes = [f for p in design["plates"] for f in p["features"] if f["shape"] == "hole"]
    assert marks % 2 == 0 and marks // 2 + len(cut) == len(holes)
    through = [max((s["dia"] for s in f["steps"] if s["step"] == "drill" and s["depth"] == "through"), default=None)
               for f in holes if not {"tap", "ream", "taper"} & {s["step"] for s in f["steps"]}]
    possible = {round(d / 2 - KERF / 2, 3) for d in through if d}
    assert set(cut) <= possible


def test_beams_pierce_in_the_scrap(package):
    for doc in package[1]:
        outer, inner = shapes(doc, "CUT_OUTER"), shapes(doc, "CUT_INNER")
        leads = [e for e in doc.modelspace() if e.dxf.layer == "LEAD_IN"]
        assert len(leads) == len(outer) + len(inner)
        for e in leads:
            pierce, end = Point(e.dxf.start.x, e.dxf.start.y), Point(e.dxf.end.x, e.dxf.end.y)
            assert min(p.exterior.distance(end) for p in outer + inner) < 0.005
            metal = any(p.contains(pierce) for p in outer) and not any(p.contains(pierce) for p in inner)
            assert not metal


def test_everything_lies_on_the_sheets_that_the_service_has(package):
    design, sheets, size = package
    if size is None:
        pytest.skip("no size was asked for")
    for doc in sheets:
        for p in shapes(doc, "CUT_OUTER"):
            x0, y0, x1, y1 = p.bounds
            assert x0 >= 10 - KERF and y0 >= 10 - KERF
            assert x1 <= size[0] - 10 + KERF and y1 <= size[1] - 10 + KERF
    if size == (200, 200):
        assert len(sheets) == len(design["plates"])


def test_holes_keep_their_places_on_a_plate_that_is_turned(package):
    """Centres from the plate's lower left corner: as seen on its reference face, or by 90 degrees."""
    design, sheets, size = package
    found = []
    for doc in sheets:
        centres = [(e.dxf.center.x, e.dxf.center.y) for e in doc.modelspace()
                   if e.dxf.layer == "CUT_INNER" and e.dxftype() == "CIRCLE"]
        marks = [e for e in doc.modelspace() if e.dxf.layer == "MARK"]
        centres += [((e.dxf.start.x + e.dxf.end.x) / 2, (e.dxf.start.y + e.dxf.end.y) / 2)
                    for e in marks if abs(e.dxf.start.x - e.dxf.end.x) > 1e-6]
        for p in shapes(doc, "CUT_OUTER"):
            x0, y0 = p.bounds[0] + KERF / 2, p.bounds[1] + KERF / 2
            w, h = p.bounds[2] - x0 - KERF / 2, p.bounds[3] - y0 - KERF / 2
            inside = sorted((round(x - x0, 1), round(y - y0, 1)) for x, y in centres if p.contains(Point(x, y)))
            found.append(((round(w, 1), round(h, 1)), inside))
    turned = 0
    for plate in design["plates"]:
        outer = [v["at"] for v in plate["outline"]["outer"]]
        if any(abs(v["bulge"]) >= 0.42 for v in plate["outline"]["outer"]):
            continue
        sign = -1 if plate["reference"] == "low" else 1
        xs, ys = [sign * x for x, _ in outer], [y for _, y in outer]
        holes = [(sign * f["at"][0] - min(xs), f["at"][1] - min(ys)) for f in plate["features"] if f["shape"] == "hole"]
        w, h = max(xs) - min(xs), max(ys) - min(ys)
        straight = ((round(w, 1), round(h, 1)), sorted((round(x, 1), round(y, 1)) for x, y in holes))
        quarter = ((round(h, 1), round(w, 1)), sorted((round(h - y, 1), round(x, 1)) for x, y in holes))

        def same(a, b):
            return a[0] == pytest.approx(b[0], abs=0.11) and len(a[1]) == len(b[1]) and all(
                min(abs(x - u) + abs(y - v) for u, v in b[1]) < 0.25 for x, y in a[1])

        as_drawn = any(same(straight, f) for f in found)
        by_quarter = any(same(quarter, f) for f in found)
        assert as_drawn or by_quarter, (plate["name"], straight, found)
        turned += not as_drawn
    if size == (130, 260):
        assert turned == len(design["plates"])
