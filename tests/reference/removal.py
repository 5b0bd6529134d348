"""A second way to carry out a machining sheet: exact bodies instead of height fields.

Reads motions.json and a plate's STL. Areas are set out, bodies united and cut by manifold3d (not
by shapely's buffer: it leaves points out by a hundredth of the radius), distances to the surface are measured by trimesh. It shares nothing with the program.
"""
import dataclasses
import json
import math

import manifold3d as m3
import numpy as np
import scipy.sparse.csgraph
import shapely
import trimesh
from scipy.spatial import cKDTree

# Less than this is no metal but a film between two heights of equal digits, mm³; and so far the
# stock's faces are set back, mm, so that a tool that ends on one leaves no such film.
FILM = 1e-3
SET_BACK = 2e-5
# Most points along the edges of a surface.
MOST_POINTS = 3_000_000
# How far a tool's body goes beyond the face, mm.
BEYOND = 1.0
# Straight pieces of a quarter circle: on a radius of 6 mm within 1 µm.
QUARTER = 48


def polygon(area):
    """Shapes of motions.json."""
    made = [shapely.Polygon(s[0], s[1:]) for s in area]
    return shapely.union_all([p if p.is_valid else shapely.make_valid(p) for p in made])


def cross_section(shape):
    rings = []
    for p in shapely.get_parts(shape):
        if p.geom_type == "Polygon" and p.area > 1e-9:
            p = shapely.geometry.polygon.orient(p)
            rings += [np.array(r.coords)[:-1] for r in (p.exterior, *p.interiors)]
    return m3.CrossSection(rings, m3.FillRule.Positive)


def prism(shape, low, high, radius=0.0):
    section = cross_section(shape)
    if radius > 0:
        section = section.offset(radius, m3.JoinType.Round, 2.0, 4 * QUARTER)
    if section.is_empty() or high <= low:
        return m3.Manifold()
    return section.extrude(high - low).translate((0, 0, low))


def turned(at, points):
    """A body of revolution of (radius, height) points, closed."""
    radius = max(r for r, _ in points)
    if radius <= 0:
        return m3.Manifold()
    section = m3.CrossSection([points], m3.FillRule.NonZero)
    pieces = 4 * max(24, math.ceil(math.pi / 4 / math.acos(1 - min(0.5, 0.0015 / radius))))
    return section.revolve(pieces).translate((at[0], at[1], 0))


def simplified(points):
    out = []
    for p in points:
        if not out or math.dist(p, out[-1]) > 1e-9:
            out.append(p)
    return out


def body(motion, upper, face, low, high, over):
    """What a motion takes away. `upper`: from the upper face, which lies at the height `face`;
    `low`, `high`: heights of the stock, `over`: its box in plan."""
    kind = motion["motion"]
    to_face = high + BEYOND if upper else low - BEYOND

    def down(shape, z, radius=0.0):
        return prism(shape, *sorted((z, to_face)), radius)

    if kind == "outline":
        return prism(over.difference(polygon(motion["keep"])), low - BEYOND, high + BEYOND)
    if kind == "through":
        return prism(polygon(motion["area"]), low - BEYOND, high + BEYOND)
    if kind == "clear":
        return down(polygon(motion["centres"]), motion["z"], motion["radius"])
    if kind == "axis":
        sign = -1 if upper else 1
        points = [(r, face + sign * d) for r, d in motion["shape"]]
    elif kind == "bore":
        points = motion["section"]
    elif kind == "undercut":
        a, b = motion["between"]
        return turned(motion["at"], [(0, a), (motion["radius"], a), (motion["radius"], b), (0, b)])
    elif kind == "neck":
        # The tool comes from outside: whatever stood there would be cut too.
        (a, b), r, out = motion["between"], motion["radius"], motion["outside"] + BEYOND
        return turned(motion["at"], [(r, a), (out, a), (out, b), (r, b)])
    elif kind == "ball":
        r, z = motion["radius"], motion["z"]
        ball = m3.Manifold.sphere(r, 128)
        parts = []
        for p, q in zip(motion["path"], motion["path"][1:]):
            ends = [ball.translate((*e, z)) for e in (p, q)]
            parts.append(m3.Manifold.batch_hull(ends))
        way = shapely.LineString(motion["path"]).buffer(r, quad_segs=QUARTER)
        return m3.Manifold.batch_boolean([*parts, down(way, z)], m3.OpType.Add)
    else:
        raise ValueError(kind)
    # Down to the points, up to beyond the face.
    points = simplified([tuple(p) for p in points])
    first, last = points[0], points[-1]
    ring = [*points, (last[0], to_face), (first[0], to_face)]
    if not upper:
        ring.reverse()
    return turned(motion["at"], simplified(ring))


def solid(mesh):
    mesh.merge_vertices(digits_vertex=6)
    made = m3.Manifold(m3.Mesh(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32)))
    assert made.status() == m3.Error.NoError, made.status()
    return made


def carried_out(plate):
    """The work piece after all operations, and the body of what the sheet says is left."""
    stock = plate["stock"]
    (x0, y0), (x1, y1), low, high = stock["from"], stock["to"], stock["low"], stock["high"]
    over = shapely.box(x0, y0, x1, y1)
    piece = prism(over, low + SET_BACK, high - SET_BACK)
    gone, left = [], []
    for o in plate["operations"]:
        upper = o["face"] == "upper"
        for motion in o["motions"]:
            gone.append(body(motion, upper, o["from"], low, high, over))
        for l in o["leaves"]:
            # A hair wider: the area is that of a section.
            left.append((polygon(l["area"]).buffer(0.02), l["height"]))
    gone = m3.Manifold.batch_boolean([g for g in gone if not g.is_empty()], m3.OpType.Add)
    areas = shapely.union_all([a for a, _ in left])
    return piece - gone, prism(areas, low - BEYOND, high + BEYOND)


def places(part, made):
    """Corners and middles of those triangles of a body that the work piece brought in (its number
    is `made`), of each connected piece that is more than a film: the corners of a ring cut right
    through lie on the surface, the middles of its walls do not."""
    mesh = part.to_mesh()
    corners = np.asarray(mesh.vert_properties, float)[:, :3]
    faces = np.asarray(mesh.tri_verts)
    if not len(faces):
        return corners
    # Corners stand twice where two origins meet.
    same = np.arange(len(corners))
    same[np.asarray(mesh.merge_from_vert, int)] = np.asarray(mesh.merge_to_vert, int)
    joined = same[faces]
    a, b = joined.ravel(), np.roll(joined, 1, axis=1).ravel()
    graph = scipy.sparse.coo_array((np.ones(len(a), bool), (a, b)), shape=(len(corners),) * 2)
    _, label = scipy.sparse.csgraph.connected_components(graph, directed=False)
    label = label[joined[:, 0]]
    starts = np.asarray(mesh.run_index) // 3
    origin = np.repeat(np.asarray(mesh.run_original_id), np.diff(starts))
    t = corners[faces]
    # Each piece measured from a corner of its own: far from the origin digits are lost.
    _, first, number = np.unique(label, return_index=True, return_inverse=True)
    u = t - t[first, 0][number][:, None]
    volume = np.bincount(number, np.einsum("ij,ij->i", u[:, 0], np.cross(u[:, 1], u[:, 2])) / 6)
    own = t[(volume > FILM)[number] & (origin == made)]
    return np.unique(np.concatenate([own.reshape(-1, 3), own.mean(axis=1)]), axis=0)


class Surface:
    """A mesh to measure distances to: most points lie near an edge of it, or on a triangle beside
    such an edge; only the others are looked for everywhere."""

    def __init__(self, mesh, within):
        self.mesh, self.within = mesh, within
        ends = mesh.vertices[mesh.edges_unique]
        n = np.ceil(mesh.edges_unique_length / (1.5 * within)).astype(int)
        while n.sum() > MOST_POINTS:
            n = np.maximum(1, n // 2)
        k = np.arange(n.sum()) - np.repeat(np.cumsum(n) - n, n)
        share = (k / np.repeat(n, n))[:, None]
        self.edge = np.repeat(np.arange(len(n)), n)
        self.near = cKDTree(ends[self.edge, 0] * (1 - share) + ends[self.edge, 1] * share)
        # Two triangles at each edge.
        at = np.argsort(mesh.edges_unique_inverse, kind="stable")
        first = np.searchsorted(mesh.edges_unique_inverse[at], np.arange(len(n)))
        last = np.append(first[1:], len(at)) - 1
        self.beside = np.stack([at[first] // 3, at[last] // 3], axis=1)

    def far(self, points):
        """Points that are not known to lie within the limit."""
        _, nearest = self.near.query(points, k=3)
        # On an edge, or on a triangle beside the nearest ones.
        triangles = self.beside[self.edge[nearest]].reshape(len(points), -1)
        keep = np.zeros(len(points), bool)
        for some in np.array_split(np.arange(len(points)), 1 + len(points) // 100_000):
            t = self.mesh.triangles[triangles[some]]
            pairs = np.repeat(points[some], t.shape[1], axis=0)
            on = trimesh.triangles.closest_point(t.reshape(-1, 3, 3), pairs)
            off = np.linalg.norm(on - pairs, axis=1).reshape(len(some), -1)
            keep[some] = off.min(axis=1) > self.within
        return points[keep]

    def farthest(self, points):
        """How far the farthest point lies from the surface, mm, 0 where all lie within the limit;
        and where."""
        points = self.far(points) if len(points) else points
        if not len(points):
            return 0.0, None
        _, off, _ = trimesh.proximity.closest_point(self.mesh, points)
        k = int(np.argmax(off))
        return float(off[k]), [round(float(v), 3) for v in points[k]]


@dataclasses.dataclass
class Compared:
    """Metal cut inside the solid and left outside it, as distances to the surface, with places;
    volume that the sheet makes hollow and that the solid has hollow, within the outline; area of
    the hollows' walls, each of which the solid's chords may set off."""
    gouge: float
    gouge_at: list
    rest: float
    rest_at: list
    removed: float
    hollow: float
    walls: float


def compared(plate, mesh, within, done=None):
    """`done`: the work piece and what is left by name, where not by the motions."""
    piece, named = done or carried_out(plate)
    piece, want = piece.as_original(), solid(mesh).as_original()
    made = piece.original_id()
    gouge, rest = want - piece, piece - want
    if not named.is_empty():
        rest = rest - named
    stock = plate["stock"]
    keep = [m["keep"] for o in plate["operations"] for m in o["motions"] if m["motion"] == "outline"]
    over = shapely.box(*stock["from"], *stock["to"])
    for k in keep:
        over = over.intersection(polygon(k))
    whole = over.area * (stock["high"] - stock["low"])
    # What the stock's faces were set back counts only where they stay.
    low, high = mesh.bounds[:, 2]
    stay = (abs(low - stock["low"]) < 1e-6) + (abs(high - stock["high"]) < 1e-6)
    film = stay * SET_BACK * over.area
    surface = Surface(mesh, within)
    return Compared(
        *surface.farthest(places(gouge, made)), *surface.farthest(places(rest, made)),
        max(0.0, whole - piece.volume() - film), whole - want.volume(), walls(mesh, over))


def walls(mesh, over):
    """Area of what is neither a face of the plate nor its outline, mm²."""
    inside = over.buffer(-0.01)
    middles = mesh.triangles_center
    within = shapely.contains_xy(inside, middles[:, 0], middles[:, 1])
    upright = np.abs(mesh.face_normals[:, 2]) < 1 - 1e-9
    return float(mesh.area_faces[within & upright].sum())


def plates(folder):
    return json.loads((folder / "motions.json").read_text(encoding="utf-8"))["plates"]
