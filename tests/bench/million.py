"""One million triangles: the whole package of a scan-like body, its time and memory.

    python3 tests/bench/million.py [PROGRAM] [TRIANGLES]

A dome of 80 mm with fine waves and a flat bottom, written as STL and made with every file, the
fill and the drawings. Prints wall time, time of the processor and peak memory of `PROGRAM make`
(target/release/platewright unless named). Plain Python; Unix.
"""
import array
import math
import pathlib
import resource
import subprocess
import sys
import tempfile
import time


def dome(triangles):
    """Rings of as many corners each from the middle out, a wall and a bottom: STL bytes."""
    sectors = max(8, int(math.sqrt(triangles / 2) * 1.5))
    rings = max(2, triangles // (2 * sectors))
    turns = [(math.cos(2 * math.pi * j / sectors), math.sin(2 * math.pi * j / sectors)) for j in range(sectors)]

    def ring(share):
        radius, calm = 40 * share, 0.3 * (1 - share**8)
        out = []
        for c, s in turns:
            x, y = radius * c, radius * s
            out.append((x, y, 2 + 18 * (1 - share * share) + calm * math.sin(1.3 * x) * math.cos(1.1 * y)))
        return out

    data, count = bytearray(84), 0

    def facet(*corners):
        nonlocal data, count
        data += array.array("f", (0, 0, 0, *corners[0], *corners[1], *corners[2])).tobytes() + b"\0\0"
        count += 1

    inner = ring(1 / rings)
    for j in range(sectors):
        facet((0, 0, 20), inner[j], inner[(j + 1) % sectors])
    for k in range(2, rings + 1):
        outer = ring(k / rings)
        for j in range(sectors):
            i = (j + 1) % sectors
            facet(inner[j], outer[j], outer[i])
            facet(inner[j], outer[i], inner[i])
        inner = outer
    foot = [(40.1 * c, 40.1 * s, 0.0) for c, s in turns]
    for j in range(sectors):
        i = (j + 1) % sectors
        facet(inner[j], foot[j], foot[i])
        facet(inner[j], foot[i], inner[i])
        facet(foot[i], foot[j], (0, 0, 0))
    data[80:84] = count.to_bytes(4, "little")
    return bytes(data), count


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else "target/release/platewright"
    data, count = dome(int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        (folder / "dome.stl").write_bytes(data)
        (folder / "dome.toml").write_text(
            '[nozzle]\nthread = "G 1/2"\n[part.mesh]\nfile = "dome.stl"\nunit = "mm"\n', encoding="utf-8")
        start = time.monotonic()
        done = subprocess.run([program, "make", folder / "dome.toml", "--out", folder / "out", "--quiet"], check=False)
        wall = time.monotonic() - start
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        page = folder / "out" / "dome" / "report.html"
        size = page.stat().st_size / 1e6 if page.exists() else 0
    print(f"{count} triangles: ended with {done.returncode} after {wall:.1f} s, "
          f"{used.ru_utime + used.ru_stime:.1f} s of the processor, {used.ru_maxrss / 1048576:.2f} GB, "
          f"report.html {size:.1f} MB")
    return 0 if done.returncode in (0, 1) else 1


if __name__ == "__main__":
    sys.exit(main())
