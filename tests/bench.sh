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
say "Local heating of the demonstration's tiles over an entry of 300 samples (target in the browser: 30 ms, linear to 30,000 tiles), and a changed plan (100 ms)"
cargo test --locked --release --test heating -- --ignored --nocapture --test-threads 1 bench_ || die "the local heating could not be measured"
say "What a slider's step asks, part by part, on one core"
cargo test --locked --release --lib pace_of_a_sliders_step -- --ignored --nocapture | grep " ms" || die "a slider's step could not be measured"
say "What an edited finding asks: its tile, and the wedge behind it (target: shown within 50 ms)"
cargo test --locked --release --lib pace_of_an_edited_finding -- --ignored --nocapture | grep " ms" || die "an edited finding could not be measured"
say "The in-depth solver on one core (target: 200 ms for 2,000 tiles, linear to 30,000)"
pace=$(cargo test --locked --release --lib tile::batch -- --ignored --nocapture pace) || die "the in-depth solver could not be measured"
printf '%s\n' "$pace" | grep tiles
# The least of the rounds of each count, us a tile.
tile_us=$(printf '%s\n' "$pace" | sed -n 's/^2000 tiles:.* ms, \([0-9.]*\) us a tile.*/\1/p' | sort -n | head -n 1)
many_us=$(printf '%s\n' "$pace" | sed -n 's/^30000 tiles:.* ms, \([0-9.]*\) us a tile.*/\1/p' | sort -n | head -n 1)
awk "BEGIN { printf \"2,000 tiles: %.0f ms; a tile of 30,000 takes %.2f times one of 2,000\\n\", 2 * $tile_us, $many_us / $tile_us }"
if python3 -c "import numpy, scipy" 2>/dev/null; then
  say "The general integrator on five stacks of the same kind (target: a tile 5,000 times faster at the same error)"
  python3 tests/stiff/compare.py target/release/tileglow assets/materials.json "$tile_us" || die "the two differ"
else
  note "python3 with numpy and scipy is missing: the general integrator is not measured"
fi
say "Measuring the page"
exec node tests/page/bench.mjs
