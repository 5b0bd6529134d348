"""What the program is built from: licences, one registry, few doubled crates, no unsafe code.

Source: the resolved dependency graph, as `cargo metadata --locked` gives it, and our own
files. The lists are those of tests/deny.toml, which `cargo deny` reads.
"""
import collections
import json
import pathlib
import re
import subprocess
import tomllib

ROOT = pathlib.Path(__file__).parents[2]
DENY = tomllib.loads((ROOT / "tests/deny.toml").read_text(encoding="utf-8"))
# Most crates that a build of the program itself may take: a new one is a decision.
MOST = 290


def metadata():
    text = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform",
         "x86_64-unknown-linux-gnu"],
        cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return json.loads(text)


GRAPH = metadata()
PACKAGES = {p["id"]: p for p in GRAPH["packages"]}
NODES = {n["id"]: n for n in GRAPH["resolve"]["nodes"]}
OURS = GRAPH["resolve"]["root"]
# The program and the crates under src/.
MEMBERS = {*GRAPH["workspace_members"]}


def shipped():
    """Ids of all packages that the program itself is built from."""
    found, open_ = set(), [OURS]
    while open_:
        here = open_.pop()
        if here in found:
            continue
        found.add(here)
        for d in NODES[here]["deps"]:
            if any(k["kind"] in (None, "build") for k in d["dep_kinds"]):
                open_.append(d["pkg"])
    return found


def allowed(expression, allow):
    """Whether an SPDX expression can be met with the allowed licences."""
    def any_of(text):
        return any(all_of(t) for t in re.split(r"\s+OR\s+|/", text))

    def all_of(text):
        return all(t.strip(" ()") in allow for t in re.split(r"\s+AND\s+", text))

    inner = re.sub(r"\(([^()]*)\)", lambda m: next(
        (t.strip() for t in re.split(r"\s+OR\s+", m[1]) if t.strip() in allow), m[1]), expression)
    return any_of(inner)


def test_every_licence_is_one_of_ours():
    extra = collections.defaultdict(set)
    for e in DENY["licenses"]["exceptions"]:
        extra[e["crate"]].update(e["allow"])
    bad = [f"{p['name']} {p['version']}: {p['license']}" for p in PACKAGES.values()
           if not allowed(p["license"] or "none", {*DENY["licenses"]["allow"], *extra[p["name"]]})]
    assert not bad


def test_everything_comes_from_one_registry():
    sources = {p["source"] for i, p in PACKAGES.items() if i not in MEMBERS}
    assert len(sources) == 1 and all(s.startswith("registry+") for s in sources)


def test_doubled_crates_come_from_the_geometry_libraries_alone():
    heads = {t["crate"] for t in DENY["bans"]["skip-tree"]}
    excused, open_ = set(), [i for i, p in PACKAGES.items() if p["name"] in heads]
    while open_:
        here = open_.pop()
        if here not in excused:
            excused.add(here)
            open_ += [d["pkg"] for d in NODES[here]["deps"]]
    versions = collections.defaultdict(set)
    for i in shipped() - excused:
        versions[PACKAGES[i]["name"]].add(PACKAGES[i]["version"])
    doubled = {n: v for n, v in versions.items() if len(v) > 1}
    assert set(doubled) <= {s["crate"].split("@")[0] for s in DENY["bans"].get("skip", [])}


def test_no_more_crates_than_agreed():
    print(len(shipped()), "crates in the program")
    assert len(shipped()) <= MOST


def test_no_unsafe_code_of_ours():
    manifest = tomllib.loads((ROOT / "Cargo.toml").read_text(encoding="utf-8"))
    assert manifest["workspace"]["lints"]["rust"]["unsafe_code"] == "forbid"
    for member in MEMBERS:
        own = pathlib.Path(PACKAGES[member]["manifest_path"]).read_text(encoding="utf-8")
        assert tomllib.loads(own)["lints"] == {"workspace": True}, member
    # `expect`/`allow` cannot lift `forbid`; a file that tries does not build.
    for path in (ROOT / "src").rglob("*.rs"):
        assert not re.search(r"\bunsafe\s*(\{|fn|impl)", path.read_text(encoding="utf-8")), path


def test_nothing_is_vendored():
    """Scripts and fonts of others come from the registry, not from our tree."""
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True,
                             check=True).stdout.split("\n")
    fonts = [t for t in tracked if t.lower().endswith((".ttf", ".otf", ".woff", ".woff2"))]
    minified = [t for t in tracked if t.endswith((".min.js", ".min.css"))]
    assert not fonts and not minified
