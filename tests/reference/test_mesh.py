"""Parts from mesh files, against trimesh and manifold3d.

Source of truth: shapes made by trimesh's creation functions and booleans of manifold3d. The
cavities of both plates less the cores on B are the part, scaled by the shrinkage; manifold3d
cuts the same plates; what hooks has a known area (polygons of n corners for circles).
"""
import ctypes
import json
import math
import subprocess

import lib3mf
import manifold3d
import numpy as np
import pytest
import trimesh
from meshes import manifold
from packages import PROGRAM

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)

N = 64
POLYGON = math.sin(2 * math.pi / N) * N / 2  # area of a polygon in a circle of radius 1


def moved(x, y, z):
    return trimesh.transformations.translation_matrix((x, y, z))


def turned(section):
    """A body of revolution of a closed section (radius, height)."""
    return trimesh.creation.revolve(np.array(section + section[:1]), sections=N)


def cylinder(r, h, z=0.0):
    return trimesh.creation.cylinder(r, h, sections=N, transform=moved(0, 0, z))


CUP = turned([(0, 0), (20, 0), (22, 30), (20, 30), (18.2, 3), (0, 3)])
CONE = trimesh.creation.cone(20, 12, sections=N)
BALL = trimesh.creation.icosphere(3, 15)
RING = trimesh.creation.torus(20, 5, major_sections=N, minor_sections=32)
PLATE = trimesh.creation.box((30, 20, 6))
HOLED = trimesh.boolean.difference([trimesh.creation.box((40, 30, 8)), cylinder(6, 20)])
SPOOL = turned([(0, 0), (15, 0), (15, 4), (6, 4), (6, 10), (15, 10), (15, 14), (0, 14)])
PIPED = trimesh.boolean.difference([
    trimesh.creation.box((30, 20, 10)),
    trimesh.creation.cylinder(3, 50, sections=N,
                              transform=trimesh.transformations.rotation_matrix(math.pi / 2, (1, 0, 0))),
])
# Name, body, which way up, area that hooks.
SHAPES = {
    "cup": (CUP, None, 0),
    "cone": (CONE, None, 0),
    "ball": (BALL, None, 0),
    "ring": (RING, "+z", 0),
    "plate": (PLATE, None, 0),
    "holed": (HOLED, None, 0),
    "spool": (SPOOL, "+z", 2 * POLYGON * (15**2 - 6**2)),
    # The whole wall of the bore, but where its facets are upright.
    "piped": (PIPED, "+z", 20 * 2 * 3 * math.sin(math.pi / N) * N),
}


def write_3mf(mesh, path):
    """By lib3mf: trimesh needs a further library for it."""
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    made = model.AddMeshObject()
    points = [lib3mf.Position((ctypes.c_float * 3)(*p)) for p in mesh.vertices]
    faces = [lib3mf.Triangle((ctypes.c_uint32 * 3)(*t)) for t in mesh.faces]
    made.SetGeometry(points, faces)
    model.AddBuildItem(made, wrapper.GetIdentityTransform())
    model.QueryWriter("3mf").WriteToFile(str(path))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Package folder and answer by shape."""
    root = tmp_path_factory.mktemp("mesh")
    found = {}
    for name, (mesh, up, _) in SHAPES.items():
        assert mesh.is_watertight
        mesh.export(root / f"{name}.stl")
        way = f'up = "{up}"\n' if up else ""
        (root / f"{name}.toml").write_text(
            f'[job]\nname = "{name}"\n[nozzle]\nthread = "G 1/2"\n[mold]\nthickness_a = 60\n'
            f'thickness_b = 60\n[part.mesh]\nfile = "{name}.stl"\nunit = "mm"\n{way}[output]\nfill = "off"\n',
            encoding="utf-8")
        done = subprocess.run(
            [PROGRAM, "make", root / f"{name}.toml", "--out", root / "out", "--json"],
            capture_output=True, stdin=subprocess.DEVNULL, timeout=300, check=False)
        assert done.returncode in (0, 1), (name, done.returncode, done.stderr.decode()[-2000:])
        found[name] = (root / "out" / name, json.loads(done.stdout))
    return found


def each_shape():
    return pytest.mark.parametrize("name", SHAPES)


def design(made, name):
    return json.loads((made[name][0] / "design.json").read_text(encoding="utf-8"))


@each_shape()
def test_the_part_is_the_file_s_body(made, name):
    part = manifold(made[name][0] / "part.stl")
    assert part.volume() == pytest.approx(SHAPES[name][0].volume, rel=1e-6)


@each_shape()
def test_shot_and_plates_leave_what_the_part_fills(made, name):
    """Each plate with the part scaled into it: the metal that the part overlaps is none, and
    what part and plates leave of the block is the feed alone."""
    folder, d = made[name][0], design(made, name)
    place = d["cavities"][0]
    a, s, (x, y) = math.radians(place["angle_deg"]), place["scale"], place["at"]
    c, n = math.cos(a), math.sin(a)
    part = manifold(folder / "part.stl").transform(
        np.array([[s * c, -s * n, 0, x], [s * n, s * c, 0, y], [0, 0, s, 0]]))
    metal = [manifold(folder / f"{p['name']}.stl") for p in d["plates"]]
    inside = sum((m ^ part).volume() for m in metal)
    assert inside == pytest.approx(0, abs=1e-6 * part.volume())
    shot = manifold(folder / "shot.stl")
    # The cavity is the part: all of it is shot.
    assert (shot ^ part).volume() == pytest.approx(part.volume(), rel=1e-6)
    assert sum((m ^ shot).volume() for m in metal) == pytest.approx(0, abs=1e-6 * part.volume())


@each_shape()
def test_manifold_makes_the_same_cavity(made, name):
    """What the shot has beyond the part is the sprue: the cavity is no larger than the part that
    manifold3d takes out of it."""
    folder, d = made[name][0], design(made, name)
    if d["feed"]["runs"]:
        pytest.skip("runner and gate run into the cavity's side")
    place = d["cavities"][0]
    s, (x, y) = place["scale"], place["at"]
    assert place["angle_deg"] == 0
    part = manifold(folder / "part.stl").scale((s, s, s)).translate((x, y, 0))
    feed = manifold3d.Manifold.cylinder(400, d["feed"]["sprue_large"] / 2 + 0.05, circular_segments=256)
    more = manifold(folder / "shot.stl") - part - feed.translate((0, 0, -200))
    assert more.volume() == pytest.approx(0, abs=1e-6 * part.volume())


@each_shape()
def test_what_hooks_has_the_known_area(made, name):
    area = SHAPES[name][2]
    found = [f for f in made[name][1]["findings"] if f["code"] == "undercut"]
    if not area:
        assert not found
        return
    assert found[0]["level"] == "stop"
    told = float(found[0]["what"].split(" mm²")[0])
    assert told == pytest.approx(area, rel=0.02)


def test_readers_agree_on_every_format(tmp_path):
    """The same body as text STL, OBJ and 3MF has the same volume."""
    for ending in ("stl", "obj", "3mf"):
        path = tmp_path / f"cup.{ending}"
        if ending == "3mf":
            write_3mf(CUP, path)
        else:
            CUP.export(path, file_type="stl_ascii" if ending == "stl" else ending)
        (tmp_path / "cup.toml").write_text(
            f'[nozzle]\nthread = "G 1/2"\n[part.mesh]\nfile = "cup.{ending}"\nunit = "mm"\n[output]\nfill = "off"\n',
            encoding="utf-8")
        done = subprocess.run([PROGRAM, "why", tmp_path / "cup.toml", "part.mesh.file"],
                              capture_output=True, check=False)
        told = float(done.stdout.decode().split("part.mesh.file = ")[1].split(" ")[0])
        assert told == pytest.approx(CUP.volume, abs=0.06)
