"""The bore that a taper pipe thread is tapped into: reamed 1:16, or one straight drill.

Source of truth: trimesh cuts the written STL through the axis. Minor diameters at the gauge
plane, its depth, threads per inch: ISO 7-1 and ASME B1.20.1, typed in from public dimension
tables; straight tap drills: the cutting-tap hole table of Rc threads (long bore) and the NPT
drill list (23/32 in).
"""
import pathlib
import subprocess

import numpy as np
import pytest
import trimesh
from meshes import welded
from packages import PROGRAM

if not PROGRAM:
    pytest.skip("PLATEWRIGHT_PROGRAM is not set", allow_module_level=True)
PROGRAM = pathlib.Path(PROGRAM).resolve()

# Minor diameter at the gauge plane, its depth, pitch, straight drill.
ROWS = {
    "Rc 1/2": (18.631, 0.907, 25.4 / 14, 17.6),
    "1/2 NPT": (19.772 - 1.451, 0.0, 25.4 / 14, 18.26),
    "Rc 1": (30.291, 25.4 / 22, 25.4 / 11, 29.0),
}
THICK = 40.0


def bore(folder, thread, extra=""):
    """Depth and diameter along the wall of the bore."""
    file = folder / "gauge.toml"
    file.write_text(
        f'[job]\nkind = "adaptor"\n[nozzle]\nthread = "{thread}"\n{extra}\n'
        f'[adaptor]\nthickness = {THICK}\nbore = 6\n'
        'pattern = { pattern = "circle", count = 4, diameter = 90 }\n'
        "[output]\nchord_tolerance = 0.002\n", encoding="utf-8")
    run = subprocess.run([PROGRAM, "make", file, "--out", folder / "out"], capture_output=True, text=True)
    assert run.returncode in (0, 1), run.stderr
    mesh = welded(next((folder / "out").rglob("adaptor.stl")))
    lines = trimesh.intersections.mesh_plane(mesh, [0.6, 0.8, 0.0], [0, 0, 0])
    radius = np.hypot(lines[:, :, 0], lines[:, :, 1])
    depth = THICK - lines[:, :, 2]
    out = []
    for at in np.arange(3.0, 9.01, 0.5):
        found = [r0 + (r1 - r0) * (at - d0) / (d1 - d0)
                 for (r0, r1), (d0, d1) in zip(radius, depth)
                 if abs(d1 - d0) > 1e-9 and min(d0, d1) <= at <= max(d0, d1) and min(r0, r1) > 4]
        out.append((at, 2 * min(found)))
    return np.array(out)


@pytest.mark.parametrize("thread", ROWS)
def test_a_reamed_bore_tapers_1_to_16_along_the_minor_diameter(tmp_path, thread):
    minor, gauge, _, _ = ROWS[thread]
    wall = bore(tmp_path, thread)
    slope, _ = np.polyfit(wall[:, 0], wall[:, 1], 1)
    assert slope == pytest.approx(-1 / 16, abs=0.0005)
    over = wall[:, 1] - (minor - (wall[:, 0] - gauge) / 16)
    # A little wider than the basic minor diameter, never narrower.
    assert np.all(over > 0.03) and np.all(over < 0.07), over


@pytest.mark.parametrize("thread", ROWS)
def test_without_the_reamer_it_is_the_straight_drill(tmp_path, thread):
    wall = bore(tmp_path, thread, "taper_reamed = false")
    assert wall[:, 1] == pytest.approx(ROWS[thread][3], abs=0.025)
