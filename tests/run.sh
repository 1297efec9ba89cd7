#!/bin/sh
# Passes every test: the code's form, the native tests, the built page's size, and the page in a real Chromium.
#
#   sh tests/run.sh                 everything
#   sh tests/run.sh native          form and native tests only
#   sh tests/run.sh page [NAME…]    the page only: build, size, and the tests in tests/page whose names contain one of the words
#
# Installs what is missing (see www/tools.sh) and skips what is there. Ends with `N passed, M failed`.
set -u
ROOT=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$ROOT/www/tools.sh"
cd "$ROOT" || exit 1

part=${1:-all}
[ $# -gt 0 ] && shift
case $part in
all | native) [ $# -eq 0 ] || die "\`$part\` takes no names" ;;
page) ;;
-h | --help | help)
    sed -n '2,8s/^# \{0,1\}//p' "$0"
    exit 0
    ;;
*) die "\`$part\` is not known; \`native\`, \`page\` or nothing" ;;
esac

PASSED=0
FAILED=0
BROKEN=
LOG=$TOOLS/log
mkdir -p "$LOG"
began=$(date +%s)

# watched NAME COMMAND…: runs a stage on screen and keeps its output in tests/.tools/log; returns its exit code.
watched() {
    watched_log=$LOG/$1.txt
    shift
    { "$@" 2>&1; echo $? >"$LOG/code"; } | tee "$watched_log"
    return "$(cat "$LOG/code")"
}

clock() { note "$1: $(($(date +%s) - $2)) s"; }

# one NAME WHAT COMMAND…: a stage that counts as one test.
one() {
    name=$1
    say "$2"
    shift 2
    stage_began=$(date +%s)
    if watched "$name" "$@"; then
        PASSED=$((PASSED + 1))
    else
        FAILED=$((FAILED + 1))
        BROKEN="$BROKEN $name"
    fi
    clock "$name" "$stage_began"
}

# counted NAME WHAT COMMAND…: a stage that tells its own counts, as cargo test and tests/page/run.mjs do. One that fails
# without telling a failure (it did not compile, it crashed) counts as one failure.
counted() {
    name=$1
    say "$2"
    shift 2
    stage_began=$(date +%s)
    watched "$name" "$@"
    code=$?
    counts=$(awk '/^test result:/ { for (i = 2; i <= NF; i++) { if ($i ~ /^passed/) p += $(i-1); if ($i ~ /^failed/) f += $(i-1) } }
        END { print p + 0, f + 0 }' "$LOG/$name.txt")
    stage_passed=${counts% *}
    stage_failed=${counts#* }
    if [ "$code" -ne 0 ] && [ "$stage_failed" -eq 0 ]; then stage_failed=1; fi
    if [ "$stage_passed" -eq 0 ] && [ "$stage_failed" -eq 0 ]; then stage_failed=1; fi
    PASSED=$((PASSED + stage_passed))
    FAILED=$((FAILED + stage_failed))
    [ "$stage_failed" -eq 0 ] || BROKEN="$BROKEN $name"
    note "$name: $stage_passed passed, $stage_failed failed"
    clock "$name" "$stage_began"
}

# Input written by other programs: each tests/data/NAME with a requirements.txt has a make.py that writes into a folder.
foreign() {
    for wanted in tests/data/*/requirements.txt; do
        [ -f "$wanted" ] || continue
        folder=$(dirname "$wanted")
        set_name=$(basename "$folder")
        [ -f "$folder/make.py" ] || continue
        need_python "$ROOT/$wanted" "python-$set_name"
        out=$TOOLS/made/$set_name
        rm -rf "$out" && mkdir -p "$out"
        note "$folder/make.py writes into tests/.tools/made/$set_name"
        "$PYTHON" "$folder/make.py" "$out" || return 1
    done
}

# The in-depth solver against a general-purpose stiff integrator.
stiff() {
    need_python "$ROOT/tests/data/stiff/requirements.txt" python-stiff
    "$PYTHON" tests/stiff/compare.py target/release/tileglow assets/materials.json
}

demo_glb() {
    rm -rf "$TOOLS/demo" && target/release/tileglow demo "$TOOLS/demo" && node tests/page/gltf.mjs "$TOOLS/demo/vehicle.glb"
}

need_rust exact
if [ "$part" != page ]; then
    one format "Format: cargo fmt --check" cargo fmt --check
    one clippy "Lints, native: cargo clippy" cargo clippy --locked --all-targets -- -D warnings
    one clippy-web "Lints, browser: cargo clippy for wasm" cargo clippy --locked --lib --bins --target wasm32-unknown-unknown -- -D warnings
    if ls tests/data/*/requirements.txt >/dev/null 2>&1; then
        one foreign "Input written by other programs (tests/data/*/make.py)" foreign
    fi
    counted native "Native tests: cargo test --release" cargo test --locked --release --no-fail-fast --features parquet
fi
need_node
one command "The command: cargo build --release" cargo build --locked --release
if [ "$part" != page ]; then
    one stiff "The in-depth solver against SciPy's BDF (tests/stiff/compare.py)" stiff
    one gltf "The demonstration's vehicle.glb against the glTF validator" demo_glb
fi
if [ "$part" != native ]; then
    need_chromium
    one build "The page: sh www/serve.sh build" sh www/serve.sh build
    one single "The page in one file: www/single.mjs" node www/single.mjs
    one size "The page's size: www/sizes.mjs" node www/sizes.mjs dist
    counted page "The page in $("$CHROMIUM" --version 2>/dev/null)" node tests/page/run.mjs "$@"
fi

clock "all stages" "$began"
[ -z "$BROKEN" ] || note "failed:$BROKEN (their output is kept in tests/.tools/log)"
echo
echo "$PASSED passed, $FAILED failed"
[ "$FAILED" -eq 0 ]
