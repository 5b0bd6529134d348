"""Programs for a mill make the part: read by pygcode and carried out by manifold3d (programs.py)
against the STL files of starter files.

Source of truth: the solids. Limits: metal removed no deeper than 0.02 mm inside the solid, left no
farther than 0.02 mm outside it (0.05 mm beside what the sheet names). That the check notices is
tried by spoiling a text.
"""
import json
import os
import re
import subprocess

import programs
import pytest
import removal
import trimesh
from many_designs import without_fill
from packages import PROGRAM, TEMPLATES

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)

NEAR, BESIDE = 0.02, 0.05
NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
# Ways of telling the same.
OPTIONS = {
    "plain": "",
    "otherwise": 'arcs = "radius"\ncycles = "G81 to G89"\nunits = "inch"\nline_numbers = true\n',
}
BY_DAY = {"adaptor": "plain", "flange": "plain", "keyring": "plain", "cup": "otherwise", "tag": "otherwise"}
AT_NIGHT = [*BY_DAY, "coaster", "fish", "npt-plate", "plug", "seat"]
RUNS = [(n, o) for n in AT_NIGHT for o in OPTIONS] if NIGHTLY else [*BY_DAY.items()]


def plates(name, options, folder):
    text = without_fill((TEMPLATES / f"{name}.toml").read_text(encoding="utf-8"))
    text = text.replace("[output]\n", "[output]\nmotions = true\n", 1)
    for p in TEMPLATES.iterdir():
        if p.suffix != ".toml":
            (folder / p.name).write_bytes(p.read_bytes())
    (folder / "job.toml").write_text(f'{text}\n[[shop.machine]]\nkind = "mill"\n{options}', encoding="utf-8")
    subprocess.run([PROGRAM, "make", folder / "job.toml", "--out", folder / "out"], check=True, capture_output=True)
    (out,) = [p.parent for p in folder.glob("out/**/motions.json")]
    data = json.loads((out / "design.json").read_text(encoding="utf-8"))["plates"]
    for plate in removal.plates(out):
        texts = {}
        for p in sorted((out / "programs").glob(f"{plate['name']}-setup-*.nc")):
            setup = int(re.search(r"setup-(\d+)", p.name)[1])
            texts.setdefault(setup, []).append(p.read_text(encoding="ascii"))
        (datum,) = [d["datum"] for d in data if d["name"] == plate["name"]]
        if texts:
            yield plate, texts, datum, trimesh.load(out / f"{plate['name']}.stl")


def compared(plate, texts, datum, mesh):
    return removal.compared(plate, mesh, NEAR, programs.carried_out(plate, texts, datum))


@pytest.mark.parametrize("name, how", RUNS)
def test_programs_make_the_part(name, how, tmp_path):
    seen = 0
    for plate, texts, datum, mesh in plates(name, OPTIONS[how], tmp_path):
        c = compared(plate, texts, datum, mesh)
        assert c.gouge <= NEAR, (plate["name"], c)
        assert c.rest <= BESIDE, (plate["name"], c)
        seen += 1
    assert seen


def test_a_spoilt_text_is_noticed(tmp_path):
    (plate, texts, datum, mesh), *_ = plates("adaptor", "", tmp_path)
    setup, (text,) = next(iter(texts.items()))
    deeper = re.sub(r"^G1 Z-(\d+)(?=\.| )", lambda m: f"G1 Z-{int(m[1]) + 1}", text, flags=re.M)
    assert deeper != text
    assert compared(plate, texts | {setup: [deeper]}, datum, mesh).gouge > NEAR
