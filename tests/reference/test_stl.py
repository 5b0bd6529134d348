"""The STL files of a package, read by trimesh and manifold3d.

Reads the folder named by PLATEWRIGHT_OUT. Checked here: watertight, one winding, positive
volume, accepted as a manifold without repair, the same volume by both libraries, and the
plate's bounding box where design.json stands beside the files.
"""
import json
import os
import pathlib

import manifold3d
import numpy as np
import pytest
import trimesh

OUT = os.environ.get("PLATEWRIGHT_OUT")
if not OUT:
    pytest.skip("PLATEWRIGHT_OUT is not set", allow_module_level=True)
FILES = sorted(pathlib.Path(OUT).rglob("*.stl"))


def test_there_is_something_to_check():
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_watertight_and_same_volume(path):
    raw = trimesh.load_mesh(path, process=False)
    # Vertices that are equal bit by bit are one; nothing else is mended.
    corners, faces = np.unique(raw.vertices, axis=0, return_inverse=True)
    mesh = trimesh.Trimesh(corners, faces.reshape(-1)[raw.faces], process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0
    body = manifold3d.Manifold(
        manifold3d.Mesh(
            vert_properties=mesh.vertices.astype(np.float32),
            tri_verts=mesh.faces.astype(np.uint32),
        )
    )
    assert body.status() == manifold3d.Error.NoError
    assert body.volume() == pytest.approx(mesh.volume, rel=1e-6)


@pytest.mark.parametrize("path", sorted(pathlib.Path(OUT).rglob("design.json")), ids=lambda p: p.parent.name)
def test_plates_fill_their_box(path):
    design = json.loads(path.read_text(encoding="utf-8"))
    for plate in design["plates"]:
        for f in path.parent.rglob(plate["name"] + ".stl"):
            mesh = trimesh.load_mesh(f)
            z = mesh.bounds[:, 2]
            assert z[0] == pytest.approx(plate["z_low"], abs=1e-5)
            assert z[1] == pytest.approx(plate["z_high"], abs=1e-5)
            x = [v["at"][0] for v in plate["outline"]["outer"]]
            y = [v["at"][1] for v in plate["outline"]["outer"]]
            # Straight sides reach the outline's corners; a round plate's chords do at its quadrants.
            assert mesh.bounds[1][0] >= max(x) - 1e-4 and mesh.bounds[0][1] <= min(y) + 1e-4
