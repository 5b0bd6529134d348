"""The benchmark's plates made by the reference kernel: how long, and the ratio to ours.

    PLATEWRIGHT_OUT=out cargo bench --bench step
    python tests/reference/reference_solids.py out/coaster/design.json out/forty/design.json

Times the best of five: primitives, one cut with all tools at once, STEP file.
"""
import json
import pathlib
import sys
import tempfile
import time

from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
from OCP.StlAPI import StlAPI_Writer
from OCP.BRepMesh import BRepMesh_IncrementalMesh

import solids


def make(plates, folder):
    for p in plates:
        body = solids.cut(
            solids.prism(p["outline"], p["z_low"], p["z_high"]), solids.tools(p)
        )
        writer = STEPControl_Writer()
        writer.Transfer(body, STEPControl_AsIs)
        writer.Write(str(folder / f"{p['name']}.step"))
        BRepMesh_IncrementalMesh(body, 0.01)
        StlAPI_Writer().Write(body, str(folder / f"{p['name']}.stl"))


for name in sys.argv[1:]:
    plates = json.loads(pathlib.Path(name).read_text())["plates"]
    times = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(5):
            start = time.perf_counter()
            make(plates, pathlib.Path(folder))
            times.append(time.perf_counter() - start)
    count = sum(len(p["features"]) for p in plates)
    print(f"{name}: {count} features, {min(times) * 1e3:.1f} ms")
