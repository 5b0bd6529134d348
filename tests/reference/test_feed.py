"""Sprue, runners, gates and cavities are one body that cuts nothing else.

Source of truth: shapely on the outlines of the written STL files and the features of design.json;
trimesh for bodies and volumes; closed forms for the volumes of the feed. A design whose shot is
not one whole body has a stop, no file of the shot and no number of the fill.
"""
import json
import math
import subprocess

import numpy as np
import pytest
import shapely
import trimesh
from meshes import manifold
from packages import CASES, MOLDS, OUT, PROGRAM, WHOLE, each

# Findings that say that there is no shot.
NO_SHOT = {"gate-misses-cavity", "sprue-misses-cavity", "feed-cuts-cavity", "shot-in-pieces"}
# Metal between a channel and a cavity, mm; at the gate its land.
METAL = 2.0


def shadow(package, cavity):
    """What a cavity covers in plan, mold coordinates."""
    a, s = math.radians(cavity["angle_deg"]), cavity["scale"]
    x, y = cavity["at"]
    c, n = math.cos(a), math.sin(a)
    part = manifold(package.file("part.stl")).transform(
        np.array([[s * c, -s * n, 0, x], [s * n, s * c, 0, y], [0, 0, s, 0]]))
    loops = [shapely.Polygon(p) for p in part.project().to_polygons() if len(p) > 2]
    area = shapely.Polygon()
    for loop in sorted(loops, key=lambda p: -p.area):
        area = area.symmetric_difference(shapely.make_valid(loop))
    return area


def width(run):
    c = run["channel"]
    return 2 * c["radius"] if c["section"] == "half-round" else c["width"]


def line(run):
    return shapely.LineString([v["at"] for v in run["runner"]])


def test_there_is_something_to_check():
    assert WHOLE and any(p.design["feed"]["runs"] for p in WHOLE)


@each(MOLDS)
def test_a_design_has_a_whole_shot_or_a_stop(package):
    stops = {f["code"] for f in package.design["findings"] if f["level"] == "stop"}
    assert package.design["whole_shot"] == (not stops & NO_SHOT)
    if not package.design["whole_shot"]:
        no_shot(package.folder)


def no_shot(folder):
    """Neither a file of the shot nor a number of the fill, and every sheet says so."""
    names = {p.name for p in folder.iterdir()}
    assert not {n for n in names if n.startswith("shot")}
    process = json.loads((folder / "process.json").read_text(encoding="utf-8"))
    assert process["fill"] is None and process["shot"] is None and process["hold"] is None
    assert process.get("developed") is None
    for sheet in ("report.html", "process-card.html", "machining-sheet.html"):
        assert "NOT RELEASED" in (folder / sheet).read_text(encoding="utf-8")


@each(WHOLE)
def test_the_shot_is_one_body(package):
    assert trimesh.load(package.file("shot.stl")).body_count == 1


@each(WHOLE)
def test_channels_leave_metal_beside_every_cavity(package):
    feed = package.design["feed"]
    if not feed["runs"]:
        pytest.skip("the sprue goes straight in")
    stops = {f["code"] for f in package.design["findings"] if f["level"] == "stop"}
    if "feed-wall-thin" in stops:
        pytest.skip("not released for that")
    areas = [shadow(package, c) for c in package.design["cavities"]]
    # Chords of the mesh, and what the outline was simplified by.
    slack = package.chord + 0.02
    foot = shapely.Point(0, 0).buffer(feed["sprue_large"] / 2, 128)
    for area in areas:
        assert area.distance(foot) >= METAL - slack
    for run in feed["runs"]:
        band = line(run).buffer(width(run) / 2, 128)
        for k, area in enumerate(areas):
            own = k == run["cavity"]
            need = min(run["gate_length"], METAL) if own else METAL
            assert area.distance(band) >= need - slack, (run["cavity"], k)
        entry, inner = np.array(run["entry"]), np.array(run["gate"][1])
        gate = shapely.LineString([run["gate"][0], inner]).buffer(run["gate_width"] / 2, cap_style="flat")
        behind = shapely.LineString([entry, inner]).buffer(run["gate_width"] / 2, cap_style="flat")
        met = gate.intersection(areas[run["cavity"]])
        assert met.area > 0.3 * behind.area
        # It meets its cavity behind its entry, and nothing before it but beside a hollow edge.
        assert met.difference(behind).area < 0.3 * run["gate_width"] * run["gate_length"] + slack
        for k, area in enumerate(areas):
            if k != run["cavity"]:
                assert gate.intersection(area).area == pytest.approx(0, abs=1e-6)


def frustum(d, e, h):
    return math.pi * h / 12 * (d * d + d * e + e * e)


@each(WHOLE)
def test_shot_volume_is_parts_and_feed(package):
    """From closed forms: a sprue, and for each cavity a runner and a gate, overlap at their ends."""
    d = package.design
    feed, n = d["feed"], len(d["cavities"])
    part = trimesh.load(package.file("part.stl")).volume * (1 + d["plastic"]["shrinkage"]) ** 3
    shot = trimesh.load(package.file("shot.stl"))
    sprue = frustum(feed["sprue_small"], feed["sprue_large"], feed["sprue_length"])
    most, least = sprue, 0.85 * sprue
    if feed["runs"]:
        # The well: a drill a little wider than the sprue with its point.
        r = feed["sprue_large"] / 2 + 0.4
        most += math.pi * r * r * (feed["well_depth"] + r)
    for run in feed["runs"]:
        length = line(run).length
        c = run["channel"]
        if c["section"] == "half-round":
            body = math.pi / 2 * c["radius"] ** 2 * length
            ends = 4 / 3 * math.pi * c["radius"] ** 3
        else:
            body, ends = c["width"] * c["depth"] * length, c["depth"] * (c["width"] + feed["sprue_large"] + 1) ** 2
        gate = np.linalg.norm(np.subtract(run["gate"][1], run["gate"][0])) * run["gate_width"] * run["gate_depth"]
        land = run["gate_length"] * run["gate_width"] * run["gate_depth"]
        most += body + ends + gate
        # What the sprue's foot and the well take up of the runner is counted there.
        least += max(0.0, 0.9 * body - ends) + 0.5 * land
    if not feed["runs"]:
        # A sprue onto a part lower than its highest place stands in the part.
        least = 0.0
    skin = package.chord * shot.area
    assert n * part + least - skin < shot.volume < n * part + most + skin


@each(WHOLE)
def test_both_plates_are_free_of_the_shot(package):
    shot = manifold(package.file("shot.stl"))
    for name in ("plate-a", "plate-b"):
        plate = manifold(package.file(f"{name}.stl"))
        assert (shot ^ plate).volume() < package.chord / 4 * shot.surface_area() + 1e-3


def run(folder, text, files=(), name="x"):
    """Exit codes of check and make, findings, folder."""
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    for file, data in files:
        (folder / file).write_bytes(data)

    def call(*args):
        return subprocess.run([PROGRAM, *args, "--json"], capture_output=True, stdin=subprocess.DEVNULL,
                              cwd=folder, timeout=300, check=False)
    check = call("check", "--fast", path)
    make = call("make", path, "--out", folder / "out")
    found = json.loads(check.stdout)["findings"] if check.returncode in (0, 1) else []
    return check, make, {f["code"] for f in found if f["level"] == "stop"}, folder / "out" / name


HEAD = '[job]\nname = "x"\n[plastic]\nkind = "PP"\n[nozzle]\nthread = "G 1/4"\n'


def test_a_leaning_slab_that_no_gate_or_sprue_reaches(tmp_path):
    """Kept as it lies: its upper side falls away from the parting plane."""
    slab = trimesh.creation.box((60, 40, 3))
    slab.apply_transform(trimesh.transformations.rotation_matrix(math.radians(20), (0, 1, 0)))
    text = HEAD + '[mold]\nparting = 20\n[part.mesh]\nfile = "a.stl"\nunit = "mm"\nup = "+z"\n'
    check, make, stops, folder = run(tmp_path, text, [("a.stl", slab.export(file_type="stl"))])
    assert (check.returncode, make.returncode) == (1, 1), check.stderr[-500:]
    if stops & NO_SHOT:
        no_shot(folder)
    else:
        assert trimesh.load(folder / "shot.stl").body_count == 1


@pytest.mark.parametrize("more, code", [
    ("[feed]\ndirect = false\nat = [40, 40]\n", "gate-off-edge"),
    ("[feed]\ndirect = true\nat = [40, 40]\n", "sprue-misses-part"),
    ("[mold]\ncavities = 3\nspacing = 30\n", "cavities-too-close"),
])
def test_check_and_make_refuse_alike(tmp_path, more, code):
    outline = ('[part]\nthickness = 3\noutline = { shape = "path", start = [0, 0], steps = [{ to = [60, 0] }, { to = [60, 15] }, '
               '{ to = [15, 15] }, { to = [15, 60] }, { to = [0, 60] }] }\n')
    check, make, _, folder = run(tmp_path, HEAD + more + outline)
    assert (check.returncode, make.returncode) == (2, 2)
    for done in (check, make):
        assert code in (done.stdout + done.stderr).decode()
    assert not folder.exists()


@pytest.mark.parametrize("case", sorted(p.stem for p in CASES.glob("feed-*.toml")))
def test_what_once_went_wrong_stays_mended(case):
    folder = next(p for p in OUT.rglob(case) if p.is_dir())
    design = json.loads((folder / "design.json").read_text(encoding="utf-8"))
    if design["whole_shot"]:
        assert trimesh.load(folder / "shot.stl").body_count == 1
    else:
        no_shot(folder)
