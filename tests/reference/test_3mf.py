"""The 3MF files of a package, read by lib3mf in strict mode.

Reads the folder named by PLATEWRIGHT_OUT. Checked here: no warning; millimetres;
one build item for each named, coloured, closed object; volumes equal to those that
design.json states, or else positive.
"""
import json
import os
import pathlib
import zipfile

import pytest

lib3mf = pytest.importorskip("lib3mf")

OUT = os.environ.get("PLATEWRIGHT_OUT")
if not OUT:
    pytest.skip("PLATEWRIGHT_OUT is not set", allow_module_level=True)
FILES = sorted(pathlib.Path(OUT).rglob("*.3mf"))


def wrapper():
    from lib3mf import get_wrapper

    return get_wrapper()


def read(path):
    model = wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    warnings = [reader.GetWarning(i) for i in range(reader.GetWarningCount())]
    assert not warnings, warnings
    return model


def volume(mesh):
    points = [tuple(v.Coordinates) for v in mesh.GetVertices()]
    total = 0.0
    for t in mesh.GetTriangleIndices():
        a, b, c = (points[i] for i in t.Indices)
        total += (
            a[0] * (b[1] * c[2] - b[2] * c[1])
            - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
        )
    return total / 6


def test_there_is_something_to_check():
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_a_slicer_can_use_it(path):
    model = read(path)
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    design = json.loads((path.parent / "design.json").read_text(encoding="utf-8"))
    facts = {s["name"]: s["volume_mm3"] for s in design["solids"]}
    built = 0
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        mesh = model.GetMeshObjectByID(item.GetObjectResourceID())
        built += 1
        name = mesh.GetName()
        assert name
        assert mesh.IsManifoldAndOriented(), name
        resource, prop, has = mesh.GetObjectLevelProperty()
        assert has, f"{name} has no colour"
        group = model.GetBaseMaterialGroupByID(resource)
        assert group.GetName(prop) == name
        v = volume(mesh)
        # lib3mf keeps single precision: 1e-6 of 100 mm coordinates.
        if name in facts:
            assert v == pytest.approx(facts[name], rel=1e-4)
        assert v > 0
    assert built == model.GetMeshObjects().Count() > 0
    if path.name.startswith("assembly"):
        assert built == len(design["plates"])


@pytest.mark.parametrize("path", FILES[:3], ids=lambda p: f"{p.parent.name}/{p.name}")
def test_the_package_holds_what_the_format_asks_for(path):
    # OPC: the three parts, no date of its own.
    with zipfile.ZipFile(path) as z:
        assert [i.filename for i in z.infolist()] == [
            "[Content_Types].xml",
            "_rels/.rels",
            "3D/3dmodel.model",
        ]
        assert {i.date_time for i in z.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert z.testzip() is None
