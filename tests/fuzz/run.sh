#!/usr/bin/env bash
# Coverage-guided fuzzing: bash tests/fuzz/run.sh TARGET SECONDS   (parameters, files, outlines)
# Needs a nightly toolchain of Rust and a C++ compiler. Begins with the templates and the kept
# cases; inputs that were found worth keeping gather in target/fuzz/TARGET. What fails is left
# as target/fuzz/crash-…, timeout-… or oom-…: mend it, then keep it as a case of a plain test.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
target=${1:?a target: parameters, files or outlines}
seconds=${2:-60}
corpus=$PWD/target/fuzz/$target
mkdir -p "$corpus"
# What cargo-fuzz passes for coverage counters and comparisons; no sanitizer: the code is safe.
export RUSTFLAGS="--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
-Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1"
host=$(rustc +nightly -vV | sed -n 's/^host: //p')
cargo +nightly build --release --locked --manifest-path tests/fuzz/Cargo.toml \
    --target-dir target/fuzz-build --target "$host" --bin "$target"
# kind FILE BYTE: a file with the byte in front that names its kind.
kind() { { printf "%b" "$2"; cat "$1"; } >"$corpus/seed-$(basename "$1")"; }
case $target in
    parameters) cp templates/*.toml tests/reference/cases/*.toml "$corpus" ;;
    files)
        for f in templates/*.svg; do kind "$f" '\0000'; done
        for f in templates/*.stl; do kind "$f" '\0002'; done
        for f in tests/fuzz/seeds/*; do
            case $f in
                *.dxf) kind "$f" '\0001' ;;
                *.obj) kind "$f" '\0003' ;;
                *.3mf) kind "$f" '\0004' ;;
                *.svg) kind "$f" '\0000' ;;
            esac
        done ;;
esac
exec "target/fuzz-build/$host/release/$target" "$corpus" -max_total_time="$seconds" \
    -timeout=5 -rss_limit_mb=1024 -artifact_prefix="$PWD/target/fuzz/" -max_len=20000
