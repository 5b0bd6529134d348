"""The drawing alone is enough: plates rebuilt from drawings.pdf against the STL files.

`drawn.py` gets the PDF file and nothing else (pdfplumber, manifold3d, shapely). Hollows (what is
missing of the bare plate) and islands (metal that stands free in a hollow, level by level) are
matched one to one with those of the STL file: each volume within 1 %, or 0.5 mm³ below 50 mm³,
none left over. What differs beside that is a film on curved walls, never a body.
"""
import functools
import os

import manifold3d as m3
import numpy as np
import pdfplumber
import pytest
import shapely
from drawn import Elsewhere, build, drawings
from meshes import manifold
from packages import PACKAGES, RANDOM, few, some

NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
# Those that the sheets must tell to the end.
WHOLE = {"coaster", "button", "flange", "reducer"}
CHOSEN = some(200) if NIGHTLY else few(6)
# A difference whose mean thickness is less than this is a film: chords of the mesh, and sizes
# printed to a hundredth, mm.
FILM = 0.012
LEAST = 0.5
# Longest chord of a mesh that is compared, mm.
FINE = 0.011


@functools.lru_cache(maxsize=4)
def sheets(path):
    with pdfplumber.open(path) as pdf:
        return drawings(pdf)


def cases():
    # Meshes with long chords tell volumes of small holes less well than the sheets.
    return [
        pytest.param(p, q, id=f"{p.name}/{q['name']}")
        for p in CHOSEN if p.chord <= FINE for q in p.made if p.whole(q["name"]) and not p.threaded(q["name"])
    ]


def on_drawing(package, plate):
    """The plate's STL file in the coordinates of its plan."""
    body = manifold(package.file(f"{plate['name']}.stl"))
    x, y = plate["datum"]
    if plate["reference"] == "high":
        return body.translate((-x, -y, -plate["z_high"]))
    return body.translate((-x, -y, -plate["z_low"])).rotate((0, 180, 0))


def agree(a, b):
    return abs(a - b) <= max(LEAST, 0.01 * max(a, b))


def thickness(body):
    return 2 * body.volume() / body.surface_area()


def bodies(of):
    """Pieces that are no film, the largest first."""
    found = [p for p in of.decompose() if p.volume() > LEAST and thickness(p) > FILM]
    return sorted(found, key=lambda p: -p.volume())


def paired(drawn, made, what):
    """Each of one side has its own of the other, with its volume. Hollows that only just touch may
    be one here and two there: then both together."""
    left = list(made)
    for d in drawn:
        mine, theirs = [d], []
        shared = [m for m in left if (d ^ m).volume() > 0.5 * min(d.volume(), m.volume())]
        assert shared, f"{what} of {d.volume():.2f} mm³ at {d.bounding_box()} is drawn but not made"
        theirs = shared
        volumes = sum(b.volume() for b in mine), sum(b.volume() for b in theirs)
        if not agree(*volumes):
            # The other pieces of the drawing that lie in the same ones.
            mine = [e for e in drawn if any((e ^ m).volume() > 0.5 * e.volume() for m in theirs)]
            volumes = sum(b.volume() for b in mine), sum(b.volume() for b in theirs)
        assert agree(*volumes), (
            f"{what} at {d.bounding_box()}: drawn {volumes[0]:.3f}, made {volumes[1]:.3f} mm³"
        )
    spare = [m for m in left if not any((d ^ m).volume() > 0.5 * min(d.volume(), m.volume()) for d in drawn)]
    assert not spare, f"{what} of {[round(p.volume(), 2) for p in spare]} mm³ is made but not drawn"


def islands(body, heights):
    """Metal that stands free, by level: united over the levels in columns (plan, volume)."""
    columns = []
    for z, high in heights:
        rings = [shapely.Polygon(p) for p in body.slice(z).to_polygons() if len(p) > 2]
        outer = [p for p in rings if p.area > 1e-6]
        metal = functools.reduce(lambda a, b: a.symmetric_difference(b), (p.buffer(0) for p in outer), shapely.Polygon())
        parts = [p for p in shapely.get_parts(metal) if p.area > 1e-3]
        for p in parts:
            if not any(q is not p and shapely.Polygon(q.exterior).contains(p.representative_point()) for q in parts):
                continue
            touching = [c for c in columns if c[0].intersects(p)]
            plan = shapely.union_all([p, *(c[0] for c in touching)])
            volume = p.area * high + sum(c[1] for c in touching)
            columns = [c for c in columns if c not in touching] + [(plan, volume)]
    return columns


def levels(thick):
    """Midheights below either face, close together where cavities are shallow."""
    edges = np.concatenate([np.arange(0, min(8, thick / 2), 0.125), np.arange(8, thick / 2, 1.0)])
    edges = np.append(edges[edges < thick / 2], thick / 2)
    half = [(-(a + b) / 2, b - a) for a, b in zip(edges, edges[1:])]
    return half + [(-thick - z, h) for z, h in half]


TOLD = {"rebuilt": 0, "elsewhere": 0}


@pytest.mark.parametrize("package, plate", cases())
def test_a_plate_is_rebuilt_from_its_drawing_alone(package, plate):
    made = on_drawing(package, plate)
    of = sheets(package.file("drawings.pdf"))[f"{package.name}-{plate['name']}"]
    try:
        piece = build(of)
    except Elsewhere as left:
        # Letters, traced outlines, free shapes: only where the part has them.
        assert package.name not in WHOLE, left
        TOLD["elsewhere"] += 1
        pytest.skip(str(left)[:80])
    TOLD["rebuilt"] += 1
    over = made - piece.stock
    assert not bodies(over), f"metal outside the drawn outline: {[b.bounding_box() for b in bodies(over)]}"
    paired(bodies(piece.stock - piece.body), bodies(piece.stock - made), "a hollow")
    for gap, words in [(piece.body - made, "drawn as metal, cut"), (made - piece.body, "drawn as hollow, metal")]:
        wrong = [(round(b.volume(), 2), round(thickness(b), 4), b.bounding_box()) for b in bodies(gap)]
        assert not wrong, f"{words}: {wrong}"
    thick = plate["z_high"] - plate["z_low"]
    heights = levels(thick)
    mine, theirs = islands(piece.body, heights), islands(made, heights)
    mine, theirs = ([c for c in side if c[1] > LEAST] for side in (mine, theirs))
    assert len(mine) == len(theirs), f"{len(mine)} islands are drawn, {len(theirs)} made"
    for plan, volume in mine:
        other = max(theirs, key=lambda c: c[0].intersection(plan).area)
        assert agree(volume, other[1]), f"an island at {plan.centroid}: drawn {volume:.3f}, made {other[1]:.3f} mm³"


def test_how_many():
    """Runs last: most drawings tell everything."""
    print(TOLD)
    if RANDOM:
        assert TOLD["rebuilt"] >= 0.5 * sum(TOLD.values()), TOLD
    assert PACKAGES


def sabotaged(package, name, change):
    """The sheets of a plate with its rows changed, and what differs then from the STL file."""
    plate = next(q for q in package.plates if q["name"] == name)
    made = on_drawing(package, plate)
    first, *more = sheets(package.file("drawings.pdf"))[f"{package.name}-{name}"]
    kept = first.rows
    first.rows = change([list(r) for r in kept])
    try:
        piece = build([first, *more])
    finally:
        first.rows = kept
    return bodies(piece.body - made) + bodies(made - piece.body)


def test_a_missing_row_and_a_wrong_size_are_noticed():
    for package in [p for p in PACKAGES if p.name == "coaster"]:
        def without(rows):
            return [r for r in rows if len(r) < 5 or "vent land" not in r[4] and r[0] != "B18"]

        def shallower(rows):
            return [[c.replace("up to 3.28", "up to 3.18") for c in r] for r in rows]

        assert sabotaged(package, "plate-b", lambda rows: rows) == []
        assert sabotaged(package, "plate-b", without)
        assert sabotaged(package, "plate-b", shallower)
