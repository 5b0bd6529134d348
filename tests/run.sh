#!/usr/bin/env bash
# Runs every check, from a fresh clone on, with Rust and Python 3 alone:
#   formatting, lints, the Rust tests, then the packages of all templates and of random
#   designs, held against outside libraries (tests/reference).
# Each suite ends in one line, the whole in a table; the last line is "N passed, M failed".
#   PLATEWRIGHT_NIGHTLY=1   500 random designs instead of 60 held to all, 10000 instead of 100
#                           to a part of it, long property tests
#   PLATEWRIGHT_DESIGNS=N   that many random designs held to all
#   PLATEWRIGHT_MANY=N      that many to a part of it: check and make end alike, same bytes
#   PLATEWRIGHT_KEEP=DIR    leave the packages in DIR
#   bash tests/run.sh stl dxf   only these suites of the reference checks (no Rust tests)
#   bash tests/run.sh browser   the pages in a real browser; left out, and said so, where there
#                               is no Chromium or npm (PLATEWRIGHT_BROWSER=1: then it fails)
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

nightly=${PLATEWRIGHT_NIGHTLY:-0}
designs=${PLATEWRIGHT_DESIGNS:-$([ "$nightly" = 1 ] && echo 500 || echo 60)}
jobs=$(nproc 2>/dev/null || echo 2)
# One profile for everything, so that the dependencies are built once. "dev" is optimised
# enough (see Cargo.toml) and keeps overflow checks and debug assertions.
target=${CARGO_TARGET_DIR:-target}
case $target in /*) ;; *) target=$PWD/$target ;; esac
program=$target/debug/platewright
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
out=${PLATEWRIGHT_KEEP:-$work/packages}
mkdir -p "$out"

passed=0 failed=0 built=0
table=()
began=$SECONDS

# suite NAME PASSED FAILED SECONDS [NOTE]: counts, prints its line, keeps it for the table.
suite() {
    passed=$((passed + $2)) failed=$((failed + $3))
    local line
    line=$(printf '%-16s %6d passed %4d failed %6d s  %s' "$1" "$2" "$3" "$4" "${5:-}")
    table+=("$line")
    printf -- '--- %s\n' "$line"
}

finish() {
    printf '\n'
    printf '%s\n' "${table[@]}"
    printf '%-16s %27s %6d s\n\n' "all" "" $((SECONDS - began))
    printf '%d passed, %d failed\n' "$passed" "$failed"
    [ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
    exit
}

# step NAME COMMAND...: one check that passes or fails as a whole.
step() {
    local name=$1 start=$SECONDS
    shift
    printf '\n=== %s\n' "$name"
    if "$@"; then suite "$name" 1 0 $((SECONDS - start)); return 0; fi
    suite "$name" 0 1 $((SECONDS - start)) "$*"
    return 1
}

rust_tests() {
    local start=$SECONDS log=$work/rust.log ok bad
    printf '\n=== rust tests\n'
    # The same random cases each time, so that a red run can be had again; other ones at night.
    if [ "$nightly" = 1 ]; then
        export PROPTEST_CASES=${PROPTEST_CASES:-2000}
    else
        export PROPTEST_RNG_SEED=${PROPTEST_RNG_SEED:-20260101}
    fi
    cargo test --workspace --no-fail-fast 2>&1 | tee "$log" | grep -vE '^test .* \.\.\. (ok|ignored)|^$|^running'
    local status=${PIPESTATUS[0]}
    ok=$(awk '/^test result:/ { n += $4 } END { print n + 0 }' "$log")
    bad=$(awk '/^test result:/ { n += $6 } END { print n + 0 }' "$log")
    # It did not compile, or a test program died.
    [ "$status" -ne 0 ] && [ "$bad" -eq 0 ] && bad=1
    [ "$status" -eq 0 ] && built=1
    suite "rust tests" "$ok" "$bad" $((SECONDS - start))
}

venv=tests/reference/.venv
python=$venv/bin/python

# A virtual environment of our own with the pinned libraries; made again when they change.
libraries() {
    local stamp want
    want=$(cat tests/reference/requirements.txt tests/reference/constraints.txt | cksum)
    stamp=$venv/.made-of
    if [ -x "$python" ] && [ "$(cat "$stamp" 2>/dev/null)" = "$want" ]; then
        echo "pinned libraries are in place"
        return 0
    fi
    local base
    base=$(command -v python3) || { echo "python3 is not installed"; return 1; }
    "$base" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
        { echo "Python 3.11 or later is needed, $("$base" --version) found"; return 1; }
    rm -rf "$venv"
    if ! "$base" -m venv "$venv" >"$work/venv.log" 2>&1; then
        # Some systems ship Python without ensurepip: take a pip that is there already.
        rm -rf "$venv"
        if "$base" -m pip --version >/dev/null 2>&1 && "$base" -m venv --without-pip "$venv" 2>>"$work/venv.log"; then
            "$base" -m pip --python "$python" install --quiet pip || { echo "pip could not be put into $venv"; return 1; }
        else
            cat "$work/venv.log"
            echo "Python's venv module is incomplete: install python3-venv (Debian: apt-get install python3-venv)"
            return 1
        fi
    fi
    "$python" -m pip install --quiet --disable-pip-version-check \
        -r tests/reference/requirements.txt -c tests/reference/constraints.txt || return 1
    echo "$want" >"$stamp"
}

packages() {
    "$python" tests/reference/make_designs.py "$program" "$out" --count "$designs" --jobs "$jobs"
}

# Plates crowded with features, made past the parameter file: for the exact solids.
plates() {
    mkdir -p "$work/plates"
    PLATEWRIGHT_OUT=$work/plates PLATEWRIGHT_RANDOM=$([ "$nightly" = 1 ] && echo 500 || echo 40) \
        cargo test --quiet --lib reference_packages -- --ignored >"$work/plates.log" 2>&1 ||
        { tail -40 "$work/plates.log"; return 1; }
}

many() {
    "$python" tests/reference/many_designs.py "$program" --jobs "$jobs" \
        --count "${PLATEWRIGHT_MANY:-$([ "$nightly" = 1 ] && echo 10000 || echo 100)}" --keep "$out/faults"
}

# reference NAME FILE FOLDER: one suite, the file test_FILE.py over the packages in a folder.
# Leaves its counts in $work/NAME.counts and what it printed in $work/NAME.log.
reference() {
    local name=$1 file=$2 folder=$3 start=$SECONDS xml=$work/$1.xml
    (cd tests/reference &&
        PLATEWRIGHT_OUT=$folder PLATEWRIGHT_PROGRAM=$program PLATEWRIGHT_NIGHTLY=$nightly \
            "$here/$python" -m pytest -q --tb=short --no-header -p no:cacheprovider \
            --junitxml="$xml" -o console_output_style=classic "test_$file.py" \
            >"$work/$name.log" 2>&1)
    local status=$?
    local counts ok bad skipped
    counts=$("$python" - "$xml" <<'END'
import sys, xml.etree.ElementTree as tree
try:
    s = list(tree.parse(sys.argv[1]).getroot().iter("testsuite"))
    n = lambda k: sum(int(x.get(k)) for x in s)
    bad = n("failures") + n("errors")
    print(n("tests") - bad - n("skipped"), bad, n("skipped"))
except (OSError, tree.ParseError):
    print(0, 1, 0)
END
    )
    read -r ok bad skipped <<<"$counts"
    # A suite that ran nothing, or died, has failed.
    if [ "$bad" -eq 0 ] && { [ "$ok" -eq 0 ] || [ "$status" -ne 0 ]; }; then bad=1; fi
    local note=""
    [ "$skipped" -gt 0 ] && note="$skipped skipped"
    printf '%d %d %d %s\n' "$ok" "$bad" $((SECONDS - start)) "$note" >"$work/$name.new"
    mv "$work/$name.new" "$work/$name.counts"
}

# told NAME: a suite that has ended, with its failures in full, but not without end.
told() {
    local ok bad took note
    read -r ok bad took note <"$work/$1.counts" 2>/dev/null || { ok=0 bad=1 took=0 note="died"; }
    printf '\n=== reference: %s\n' "$1"
    if [ "$bad" -gt 0 ]; then head -c 20000 "$work/$1.log"; fi
    suite "$1" "$ok" "$bad" "$took" "$note"
}

# references FOLDER NAME...: these suites side by side, as many as there are processors. Each is
# one process for most of its time, so that one after the other would leave the rest idle.
references() {
    local folder=$1 name running=0 left
    shift
    left=" $* "
    for name in "$@"; do
        if [ "$running" -ge "$jobs" ]; then
            wait -n
            running=$((running - 1))
            tell_ended
        fi
        reference "$name" "$name" "$folder" &
        running=$((running + 1))
    done
    while [ "$running" -gt 0 ]; do
        wait -n
        running=$((running - 1))
        tell_ended
    done
    # What left no counts has died.
    for name in $left; do told "$name"; done
}

# Of the suites in `left`, tells those that have ended, and takes them out of it.
tell_ended() {
    local name
    for name in $left; do
        [ -f "$work/$name.counts" ] || continue
        told "$name"
        left=${left/ $name / }
    done
}

# The report and the live page in headless Chromium, driven by Node.
browser() {
    local start=$SECONDS log=$work/browser.log missing="" counts
    printf '\n=== browser\n'
    CHROMIUM=${CHROMIUM:-$(command -v chromium || command -v chromium-browser || command -v google-chrome)}
    export CHROMIUM
    [ -x "$CHROMIUM" ] || missing="no Chromium"
    command -v node >/dev/null && command -v npm >/dev/null || missing="${missing:+$missing, }no Node with npm"
    if [ -z "$missing" ] && [ ! -d tests/browser/node_modules/playwright-core ]; then
        (cd tests/browser && npm install --ignore-scripts --no-package-lock --no-audit --no-fund >"$log" 2>&1) ||
            missing="the browser libraries could not be installed"
    fi
    if [ -n "$missing" ]; then
        if [ "${PLATEWRIGHT_BROWSER:-0}" = 1 ]; then suite "browser" 0 1 0 "$missing"; else suite "browser" 0 0 0 "left out: $missing"; fi
        return
    fi
    node tests/browser/run.mjs "$program" "$out/packages" >"$log" 2>&1
    local status=$?
    head -c 20000 "$log"
    counts=$(tail -1 "$log")
    case $counts in [0-9]*\ [0-9]*) ;; *) counts="0 1" ;; esac
    # It died before the last line, or ran nothing.
    if [ "$status" -ne 0 ] && [ "${counts#* }" -eq 0 ]; then counts="${counts% *} 1"; fi
    suite "browser" ${counts} $((SECONDS - start))
}

here=$PWD
case $out in /*) ;; *) out=$here/$out ;; esac
export CARGO_TERM_COLOR=${CARGO_TERM_COLOR:-never}

names=("$@")
if [ ${#names[@]} -eq 0 ]; then
    step "format" cargo fmt --all --check
    step "lints" cargo clippy --quiet --workspace --all-targets -- -D warnings
    rust_tests
    for file in tests/reference/test_*.py; do
        name=${file##*/test_}
        names+=("${name%.py}")
    done
    names+=(browser)
    # Some of them with two numbers of threads each time, ten thousand at night.
    names+=(many)
fi
# The Rust tests have built the program; building it alone would build it again, for tests ask
# more of its libraries.
[ "$built" = 1 ] || step "program" cargo build --quiet || finish
step "libraries" libraries || finish
step "packages" packages || finish
# The longest first, so that none of them runs on alone at the end.
suites=()
for name in removal same_bytes step pdf dimensions mold_closes drawings; do
    case " ${names[*]} " in *" $name "*) suites+=("$name") ;; esac
done
for name in "${names[@]}"; do
    case " browser many ${suites[*]} " in *" $name "*) ;; *) suites+=("$name") ;; esac
done
[ ${#suites[@]} -gt 0 ] && references "$out" "${suites[@]}"
case " ${names[*]} " in *" browser "*) browser ;; esac
case " ${names[*]} " in *" many "*) step "many designs" many ;; esac
case " ${names[*]} " in
*" step "*)
    step "random plates" plates && reference "step of plates" step "$work/plates" && told "step of plates"
    ;;
esac
finish
