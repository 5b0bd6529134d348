"""One design printed in both units: what is written in inches is the metric number over 25.4.

The starter file in inches, and random ones, are made twice, once with `output.units` inch and once
metric, with the same sizes bought. Paired, word by word: the lists of drawings.pdf (pdfplumber),
machining sheet, process card and report, the spreadsheet table, the cut files (ezdxf). Each pair of
numbers agrees to half of the last place of both. Sources: 1 in = 25.4 mm by definition; pounds, psi
and the rest as NIST SP 811 gives them (from memory). Bodies do not change: STL, 3MF and STEP are
the same bytes. Papers: ASME Y14.1 and Letter, rulers of 6 in.
"""
import csv
import html
import os
import re
import subprocess

import ezdxf
import pdfplumber
import pytest
from drawn import read
from make_designs import parameter_file
from many_designs import without_fill
from packages import PROGRAM, TEMPLATES
from printed import MM

NIGHTLY = os.environ.get("PLATEWRIGHT_NIGHTLY") == "1"
COUNT = int(os.environ.get("PLATEWRIGHT_UNITS", 100 if NIGHTLY else 4))
# So many of them with their fill, which takes most of the time.
FILLED = 10
SEED = 7000
# How many of the metric unit one of the other is: what a pair of numbers may differ by. In one
# sentence any of them may stand.
FACTORS = {
    "length": 25.4, "area": 645.16, "plan": 6.4516, "volume": 16.387064, "small volume": 16387.064,
    "force": 4.4482216152605, "large force": 0.0044482216152605, "pressure": 0.006894757293168361,
    "small pressure": 6.894757293168361, "torque": 1.3558179483314004, "small torque": 0.1129848290276167,
    "cutting speed": 0.3048, "fine": 25400.0, "warmer": 5 / 9, "mass": 0.45359237,
}
# What a number counts by what stands behind it in inches; by what stands before it, a length.
UNITS = [
    (re.compile(r" ?°F\b"), ("temperature", "warmer")),
    (re.compile(r"°(?![CF])| deg\b| ?%| s\b| g\b| min\b| 1/min"), ()),
    (re.compile(r" in³"), ("volume", "small volume")),
    (re.compile(r" in²"), ("area", "plan")),
    (re.compile(r" in/s"), ("length",)),
    (re.compile(r" in(?![\w/²³])"), ("length", "fine")),
    (re.compile(r" lbf·(?:ft|in)"), ("torque", "small torque")),
    (re.compile(r" lbf(?![\w·])"), ("force", "large force")),
    (re.compile(r" psi\b"), ("pressure", "small pressure")),
    (re.compile(r" ft/min"), ("cutting speed",)),
]
LENGTH_BEFORE = re.compile(r"[øR]$")
# Sizes of things that are known by them: an M8 screw is one in inches too, and so is a melt flow rate.
KNOWN = re.compile(
    r"ISO (?:4762|4032|7089|2338)[^;|]*?(?=[;|]|$)|DIN 7603[^;|]*?annealed|2\.095 × 8 mm|at \d+ °C with [\d.]+ kg"
    r"|\(?pitch [\d.]+(?: mm)?\)?|\(?[\d.]+ threads per inch\)?|Ra [\d.]+(?: µin)?|revision \w+"
    r"|\bM\d+(?: x \d+)?\b|\bR[acp]? \d[\d/ ]*|\bG \d[\d/ ]*|[\d/ ]+-[\d.]+ (?:NPT|UNC)|[\d/]+ NPT"
)
METRIC = re.compile(r"(?<![\w/])(?:mm|mm²|cm³|mm³|°C|MPa|kPa|kN|N·m|m/min|mm/min|µm)(?![\w²³])|(?<=\d) N\b")
# What a table's source says is quoted as it stands.
QUOTED = re.compile(r"table `|Metals Handbook|Danner|as recalled|usual rows|published rows|unverified|data-sheet value at")
FRACTION = re.compile(r"(?<![A-Za-z0-9_./])(?:(\d+) )?(\d+)/(\d+)(?![\w/])")
NUMBER = re.compile(r"(?<![A-Za-z0-9_.])-?\d+(?:\.\d+)?(?![\d])")
# "#7 (ø0.2010)", "8.5 mm (ø0.3346)", "17/64 (ø0.2656)": the name beside the size.
NAMED = re.compile(r"(?:#\d+|[A-Z]|\d+(?:/\d+)?|\d+(?:\.\d+)? mm) \(ø(-?\d+\.\d+)\)")
PAPERS = {"Letter": (215.9, 279.4), "Tabloid": (279.4, 431.8), "ANSI C": (431.8, 558.8), "ANSI D": (558.8, 863.6)}


def with_units(text, units, stock="metric"):
    """The parameter file with its units, and sizes of `stock` bought unless it says which."""
    text = re.sub(r'^units = .*\n', "", text, flags=re.M)
    line = f'units = "{units}"\n'
    text = text.replace("[output]\n", "[output]\n" + line) if "[output]\n" in text else f"{text}\n[output]\n{line}"
    if "\nstock = " in text:
        return text
    line = f'stock = "{stock}"\n'
    return text.replace("[shop]\n", "[shop]\n" + line) if "[shop]\n" in text else f"{text}\n[shop]\n{line}"


def texts():
    starter = (TEMPLATES / "npt-plate.toml").read_text(encoding="utf-8")
    out = {"npt-plate": starter.replace("[shop]\n", '[shop]\nstock = "inch"\n')}
    for i in range(COUNT):
        text = parameter_file(SEED + i, f"units-{i:03}")
        out[f"units-{i:03}"] = text if i < FILLED else without_fill(text)
    return out


TEXTS = texts()


@pytest.fixture(scope="module", params=TEXTS)
def both(request, tmp_path_factory):
    """Folders of the two packages; random files that are refused are refused in both."""
    made = {}
    for units in ("metric", "inch"):
        at = tmp_path_factory.mktemp(units)
        file = at / f"{request.param}.toml"
        # What is bought is one in both: every other time in inches.
        stock = "inch" if request.param.endswith(("1", "3", "5", "7", "9")) else "metric"
        file.write_text(with_units(TEXTS[request.param], units, stock), encoding="utf-8")
        done = subprocess.run([PROGRAM, "make", file, "--out", at / "out"], capture_output=True, check=False)
        assert done.returncode in (0, 1, 2), done.stderr.decode()[-500:]
        made[units] = [p.parent for p in (at / "out").rglob("design.json")]
    assert len(made["metric"]) == len(made["inch"])
    if not made["metric"]:
        pytest.skip("refused")
    return made["metric"][0], made["inch"][0]


def numbers(text):
    """Numbers of a text with the step of their last place, and what they count where it says so."""
    text = NAMED.sub(r"ø\1", KNOWN.sub(" ", text))
    out = []

    def counts(start, end):
        for unit, kinds in UNITS:
            if unit.match(text, end):
                return kinds, "behind"
        return (("length",), "before") if LENGTH_BEFORE.search(text, max(0, start - 1), start) else (None, "")

    def fraction(m):
        value = int(m[1] or 0) + int(m[2]) / int(m[3])
        out.append((m.start(), value, 0.0, counts(m.start(), m.end())))
        return " " * len(m[0])

    plain = FRACTION.sub(fraction, text)
    for m in NUMBER.finditer(plain):
        places = len(m[0].split(".")[1]) if "." in m[0] else 0
        out.append((m.start(), float(m[0]), 10.0**-places, counts(m.start(), m.end())))
    return [rest for _, *rest in sorted(out, key=lambda n: n[0])]


def agree(metric, inch):
    (m, dm, of), (i, di, (kinds, where)) = metric, inch
    # Nothing is nothing in both, and what is in inches in both is a table's own word.
    if m == i and (not kinds or m == 0 or where == "behind" and of == (kinds, where)):
        return True
    if kinds == ():
        return False
    near = any(
        abs(m - i * f) <= 0.5001 * (dm + di * f) for k, f in FACTORS.items() if kinds is None or k in kinds
    )
    warm = kinds is None or "temperature" in kinds
    return near or warm and abs(m - (i - 32) * 5 / 9) <= 0.5001 * (dm + di * 5 / 9)


def faults(metric, inch):
    """What is wrong with two texts that should say the same."""
    if QUOTED.search(inch):
        return []
    out = []
    if METRIC.search(KNOWN.sub(" ", NAMED.sub(" ", inch))):
        out.append(("metric", inch))
    a, b = numbers(metric), numbers(inch)
    if len(a) != len(b):
        return out + [("count", metric, inch)]
    return out + [(x, y, metric, inch) for x, y in zip(a, b) if not agree(x, y)]


def compare(pairs):
    """Pairs of texts that say the same; all faults at once."""
    found = {str(f)[:400]: None for a, b in pairs for f in faults(a, b)}
    assert not found, "\n".join(["", *list(found)[:20]])


def pages(path):
    with pdfplumber.open(path) as pdf:
        return [read(p, as_written=True) for p in pdf.pages]


def listed(sheets):
    """Rows of the lists, each with its own words: what is one in inches may be two in millimetres."""
    rows, what = [], ""
    for row in (r for s in sheets for r in s.rows if len(r) > 1 and r[0] != "tag"):
        if row[-1] != "same":
            what = re.sub(r"^\d+× ", "", row[-1])
        rows.append([*row[:-1], what])
    return sorted(rows, key=lambda r: r[0])


def test_lists_of_the_drawings(both):
    rows = [listed(pages(p / "drawings.pdf")) for p in both]
    assert len(rows[0]) == len(rows[1]) and rows[0]
    compare((x, y) for a, b in zip(*rows) for x, y in zip(a, b))


def blocks(path):
    """What stands in each cell, paragraph and label of a page."""
    text = path.read_text(encoding="utf-8")
    text = re.sub(r"<(script|style)\b.*?</\1>", "", text, flags=re.S)
    text = re.sub(r"<svg\b.*?</svg>", "", text, flags=re.S)
    text = re.sub(r"</?(?:td|th|tr|li|p|h\d|dt|dd|figcaption|caption|div|section|summary|title)\b[^>]*>", "\n", text)
    text = html.unescape(re.sub(r"<[^>]+>", " ", text))
    return [re.sub(r"\s+", " ", line).strip() for line in text.split("\n") if line.strip()]


@pytest.mark.parametrize("name", ["machining-sheet.html", "process-card.html", "report.html"])
def test_pages(both, name):
    if not (both[0] / name).exists():
        pytest.skip("no such page")
    metric, inch = (blocks(p / name) for p in both)
    assert len(metric) == len(inch)
    # A number alone may be the size of a file in kilobytes.
    compare((a, b) for a, b in zip(metric, inch) if name != "report.html" or not re.fullmatch(r"[\d.]+", a))


def test_the_table(both):
    def rows(p):
        with (p / "machining-sheet.csv").open(encoding="utf-8", newline="") as f:
            return list(csv.reader(f))

    metric, inch = (rows(p) for p in both)
    assert len(metric) == len(inch)
    lengths = ("x", "y", "diameter", "depth", "lower", "upper")
    compare((x, y) for a, b in zip(metric, inch) for head, x, y in zip(metric[0], a, b) if head in lengths)


def test_cut_files(both):
    for file in sorted(both[0].glob("*.dxf")):
        docs = [ezdxf.readfile(p / file.name) for p in both]
        assert [d.header.get("$INSUNITS", None) for d in docs] in ([4, 1], [None, None], [0, 0])
        assert not docs[1].audit().errors
        a, b = (list(d.modelspace()) for d in docs)
        assert len(a) == len(b) and a
        for x, y in zip(a, b):
            assert (x.dxftype(), x.dxf.layer) == (y.dxftype(), y.dxf.layer)
            for key in ("center", "start", "end", "location", "insert"):
                if x.dxf.hasattr(key):
                    assert (x.dxf.get(key) / 25.4).isclose(y.dxf.get(key), abs_tol=1e-9)
            if x.dxf.hasattr("radius"):
                assert y.dxf.radius * 25.4 == pytest.approx(x.dxf.radius, rel=1e-12)
            if x.dxftype() == "LWPOLYLINE":
                for p, q in zip(x.get_points("xyb"), y.get_points("xyb")):
                    assert q[0] * 25.4 == pytest.approx(p[0], abs=1e-9)
                    assert q[1] * 25.4 == pytest.approx(p[1], abs=1e-9) and q[2] == p[2]


def test_bodies_are_the_same(both):
    for file in sorted(both[0].iterdir()):
        if file.suffix in (".stl", ".3mf", ".step"):
            assert file.read_bytes() == (both[1] / file.name).read_bytes(), file.name


def test_papers_and_rulers(both):
    sizes = {tuple(sorted(p)) for p in PAPERS.values()}
    for file in sorted(both[1].glob("*.pdf")):
        with pdfplumber.open(file) as pdf:
            for page in pdf.pages:
                size = tuple(sorted((round(page.width * MM, 1), round(page.height * MM, 1))))
                assert size in sizes, (file.name, size)
                if file.name == "drill-templates.pdf":
                    long = [(x["x0"], x["top"], x["x1"], x["bottom"]) for x in page.lines]
                    for a, b in ((0, 2), (1, 3)):
                        best = min((abs((x[b] - x[a]) * MM - 152.4) for x in long), default=99)
                        assert best < 0.05
                    assert "6 in" in page.extract_text()
                if file.name == "process-card.pdf":
                    assert len(pdf.pages) == 1
