"""The 3MF file, read by the 3MF consortium's own library.

Source of truth: lib3mf in strict mode (a file against the core specification is an
error or a warning there) and its mesh checks; volumes against design.json.
"""
import zipfile

import lib3mf
import pytest
from meshes import arrays, body, manifold, objects
from packages import PACKAGES, each

# Those with a plate that is one body.
THERE = [p for p in PACKAGES if any(p.whole(q["name"]) for q in p.plates)]


def test_there_is_something_to_check():
    assert THERE


def read(package):
    # The mesh file that a parameter file names lies in the package as well.
    file = package.file(f"{package.name}.3mf")
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(file))
    warnings = [reader.GetWarning(i) for i in range(reader.GetWarningCount())]
    return model, warnings


@each(THERE)
def test_strict_reading_gives_no_warning(package):
    model, warnings = read(package)
    assert warnings == []
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter


@each(THERE)
def test_one_named_manifold_object_per_plate_with_its_volume(package):
    model, _ = read(package)
    got = {o.GetName(): o for o in objects(model)}
    whole = [p for p in package.plates if package.whole(p["name"])]
    assert set(got) == {p["title"] for p in whole}
    for plate in whole:
        mesh = got[plate["title"]]
        assert mesh.IsValid()
        assert mesh.IsManifoldAndOriented()
        points, faces = arrays(mesh)
        if package.threaded(plate["name"]):
            stl = manifold(package.file(f"{plate['name']}.stl"))
            assert body(points, faces).volume() == pytest.approx(stl.volume(), rel=1e-5)
            continue
        fact = package.facts[plate["name"]]
        assert len(faces) == fact["triangles"]
        assert body(points, faces).volume() == pytest.approx(fact["volume_mm3"], rel=1e-6)


@each(THERE)
def test_one_build_with_every_object_once_each_in_a_colour(package):
    model, _ = read(package)
    ids = []
    walk = model.GetBuildItems()
    while walk.MoveNext():
        ids.append(walk.GetCurrent().GetObjectResourceID())
    assert sorted(ids) == sorted(o.GetResourceID() for o in objects(model))
    for o in objects(model):
        assert o.GetObjectLevelProperty()[2], f"{o.GetName()} has no colour"


@each(THERE[:3])
def test_the_container_holds_the_parts_asked_for_and_no_date(package):
    """Open Packaging Conventions (ISO/IEC 29500-2): content types, relations, model."""
    (path,) = sorted(package.folder.rglob("*.3mf"))
    with zipfile.ZipFile(path) as z:
        assert {i.filename for i in z.infolist()} == {
            "[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model",
        }
        assert {i.date_time for i in z.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert z.testzip() is None
