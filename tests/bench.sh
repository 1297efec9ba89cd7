#!/bin/sh
# Measures, and asserts nothing: the engine native and in the browser on the same work, and what the page does in a frame.
#
#   sh tests/bench.sh          print measured times beside the targets, and the ratios of this one run
#
# Installs what is missing as tests/run.sh does. Close other programs first: the least of several runs is taken.
set -u
ROOT=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$ROOT/www/tools.sh"
cd "$ROOT" || exit 1
[ $# -eq 0 ] || die "no words are taken"

need_rust
need_node
need_chromium
say "Building the command and the page"
cargo build --locked --release || die "the command could not be built"
sh www/serve.sh build || die "the page could not be built"
say "The in-depth solver on one core"
cargo test --locked --release --lib tile::batch -- --ignored --nocapture pace || die "the in-depth solver could not be measured"
if python3 -c "import numpy, scipy" 2>/dev/null; then
  say "The general integrator on five stacks of the same kind; its time at about 0.5 K over that of a tile is the paired ratio"
  python3 tests/stiff/compare.py target/release/tileglow assets/materials.json || die "the two differ"
fi
say "Measuring the page"
exec node tests/page/bench.mjs
