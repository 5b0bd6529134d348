"""The STL files, read by two libraries that share no code with ours.

Source of truth: trimesh (watertight, winding, volume) and manifold3d (accepts the mesh
as a manifold without error, own volume). Volumes must be those that design.json states;
an STL holds 32-bit numbers, so a relative 1e-5 is left for rounding. The exact volume
of plates is compared in test_step.py, where a B-rep kernel builds them again.
"""
import struct

import numpy as np
import pytest
from meshes import manifold, welded
from packages import PACKAGES, each, each_solid


def test_there_is_something_to_check():
    assert PACKAGES


@each_solid()
def test_the_file_is_as_long_as_its_header_says(package, solid):
    data = package.file(f"{solid}.stl").read_bytes()
    (count,) = struct.unpack("<I", data[80:84])
    assert len(data) == 84 + 50 * count
    # Corners of a mesh file's body may be one corner in 32-bit numbers: what collapses by that is left
    # out on both sides; that the rest is closed and of the same volume is asked below.
    collapsed = package.facts[solid]["triangles"] - count
    few = package.facetted(solid) and collapsed in (2, 4, 6, 8)
    assert package.threaded(solid) or collapsed == 0 or few
    assert not data[:80].startswith(b"solid"), "binary files must not look like text"


def tolerance(package, solid):
    """Of 32-bit numbers; with a true thread the ridges are left out of the stated volume."""
    if package.threaded(solid):
        # On a turned adaptor two threads may take a twentieth; the program holds it to an integral.
        return 0.05 if solid == "reducer" else 0.02
    return 1e-5


@each_solid()
def test_trimesh_finds_it_closed_with_the_stated_volume(package, solid):
    mesh = welded(package.file(f"{solid}.stl"))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.is_volume
    assert mesh.volume > 0
    assert mesh.volume == pytest.approx(package.facts[solid]["volume_mm3"], rel=tolerance(package, solid))


@each_solid()
def test_manifold_takes_it_without_error_and_finds_the_same_volume(package, solid):
    body = manifold(package.file(f"{solid}.stl"))
    assert not body.is_empty()
    assert body.volume() == pytest.approx(package.facts[solid]["volume_mm3"], rel=tolerance(package, solid))


@each_solid()
def test_normals_agree_with_the_winding(package, solid):
    data = package.file(f"{solid}.stl").read_bytes()
    rows = np.frombuffer(data, np.dtype([("v", "<f4", 12), ("a", "<u2")]), offset=84)["v"]
    rows = rows.astype(float)
    normal = rows[:, :3]
    a, b, c = rows[:, 3:6], rows[:, 6:9], rows[:, 9:12]
    cross = np.cross(b - a, c - a)
    size = np.linalg.norm(cross, axis=1)
    # Slivers have no direction worth comparing in 32-bit numbers.
    longest = np.max([np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    fat = size > 1e-3 * longest**2
    assert np.all(np.einsum("ij,ij->i", normal[fat], cross[fat]) > 0.99 * size[fat])


@each()
def test_every_solid_has_its_file_and_plates_have_their_stock_size(package):
    # The parameter file's own mesh lies beside it.
    own = package.file(f"{package.name}.toml").read_text(encoding="utf-8")
    names = {p.stem for p in package.folder.rglob("*.stl") if p.name not in own}
    assert names == {solid for solid in package.facts if package.whole(solid)}
    for plate in package.plates:
        if not package.whole(plate["name"]):
            continue
        low, high = welded(package.file(f"{plate['name']}.stl")).bounds
        assert low[2] == pytest.approx(plate["z_low"], abs=1e-4)
        # A core in one piece with its plate stands on it.
        stands = any(f["shape"] == "core" for f in plate["features"])
        if stands:
            # Lower hollows of an imported body make no core.
            assert high[2] > plate["z_high"] + (0.05 if package.facetted(plate["name"]) else 0.1)
        else:
            assert high[2] == pytest.approx(plate["z_high"], abs=1e-4)
        # Straight sides reach the outline's corners, chords of a round plate its quadrants.
        points = np.array([v["at"] for v in plate["outline"]["outer"]])
        assert np.all(low[:2] <= points.min(axis=0) + 1e-4)
        assert np.all(high[:2] >= points.max(axis=0) - 1e-4)
