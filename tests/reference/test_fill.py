"""The fill of every package adds up.

Source of truth: the volume of the shot's STL file (trimesh), the machine's flow, and the history
of the fill integrated anew with numpy. Nothing fills faster than melt comes, no melt is made or
lost, no pressure is above what the hand gives.
"""
import json

import numpy as np
import pytest
from packages import MOLDS, WHOLE, each

# Of the volume that came in (the issue of a computation that adds up).
MASS = 1e-4
FILLED = [p for p in WHOLE if any(p.folder.rglob("process.json"))]


def process(package):
    return json.loads(package.file("process.json").read_text(encoding="utf-8"))


def cases(package):
    fill = process(package).get("fill")
    return fill["cases"] if fill else []


def test_most_molds_have_a_fill():
    have = [p for p in FILLED if cases(p)]
    assert len(have) >= 0.6 * len(MOLDS), f"{len(have)} of {len(MOLDS)}"


@each(FILLED)
def test_the_fill_adds_up(package):
    p = process(package)
    flow, least = p["machine"]["flow"], p["shot"]["cavity_volume"]
    for c in cases(package):
        name = c["name"]
        assert c["mass_error"] <= MASS, f"{name}: {c['mass_error']}"
        assert c["time"] >= least * c["filled"] / flow * (1 - 1e-3), f"{name}: {c['time']}"
        assert c["pressure"] <= 1.001 * p["machine"]["pressure"], f"{name}: {c['pressure']}"
        assert 0 <= c["filled"] <= 1 + 1e-9


@each(FILLED)
def test_the_history_is_that_of_its_flow(package):
    for c in cases(package):
        time, pressure, flow, filled = np.array(c["history"]).T
        assert (np.diff(time) >= 0).all() and (np.diff(filled) >= -1e-12).all(), c["name"]
        assert (pressure >= 0).all()
        assert flow.max() <= 1.001 * process(package)["machine"]["flow"], c["name"]


@each(FILLED)
def test_the_network_holds_the_shot(package):
    """What the fill calls the whole is what the shot's solid holds."""
    import trimesh

    if not cases(package):
        pytest.skip("no fill")
    shot = trimesh.load(package.file("shot.stl")).volume * 1e-3
    p = process(package)
    # Time of a full case without a limit is the whole volume over the flow.
    for c in cases(package):
        if c["outcome"] == "full" and c["limited_at"] is None:
            volume = c["time"] * p["machine"]["flow"]
            assert volume == pytest.approx(shot, rel=0.01, abs=0.05), c["name"]
