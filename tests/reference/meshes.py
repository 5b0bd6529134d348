"""STL and 3MF files as meshes of the reference libraries. No checks here."""
import functools

import lib3mf
import manifold3d
import numpy as np
import trimesh


@functools.lru_cache(maxsize=16)
def welded(path):
    """A trimesh; corners that are equal to the bit become one vertex, nothing else is mended."""
    soup = trimesh.load(path, process=False, file_type="stl")
    corners = np.asarray(soup.vertices)[np.asarray(soup.faces).ravel()]
    points, index = np.unique(corners, axis=0, return_inverse=True)
    return trimesh.Trimesh(points, index.reshape(-1, 3), process=False, validate=False)


@functools.lru_cache(maxsize=16)
def manifold(path):
    """A manifold3d body; its status must be NoError."""
    mesh = welded(path)
    return body(mesh.vertices, mesh.faces, path.name)


def body(points, faces, name="mesh"):
    """A manifold3d body of points and triangles."""
    made = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(points, np.float64),
            tri_verts=np.ascontiguousarray(faces, np.uint64),
        )
    )
    assert made.status() == manifold3d.Error.NoError, f"{name}: {made.status()}"
    return made


def objects(model):
    """The bodies of a lib3mf model."""
    walk = model.GetMeshObjects()
    while walk.MoveNext():
        yield walk.GetCurrentMeshObject()


def arrays(found):
    """Vertices and triangles of a body of a lib3mf model."""
    return (
        np.array([list(v.Coordinates) for v in found.GetVertices()]),
        np.array([list(t.Indices) for t in found.GetTriangleIndices()]),
    )
