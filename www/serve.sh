#!/bin/sh
# Builds the page and serves it with the demonstration vehicle loaded.
#
#   sh www/serve.sh            build, serve on this machine, print the address
#   sh www/serve.sh build      build the static site into dist/
#   sh www/serve.sh single     build dist/tileglow.html, the whole page in one file that opens from disk
#
# Installs what is missing (see www/tools.sh) and skips what is there. PORT chooses the port (8321). QUICK=1 builds a larger,
# slower page in a fraction of the time, to look at while changing it.
set -u
ROOT=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$ROOT/www/tools.sh"
cd "$ROOT" || exit 1

what=${1:-serve}
case $what in
serve | build | single) [ $# -le 1 ] || die "one word at most: serve, build or single" ;;
-h | --help | help)
    sed -n '2,9s/^# \{0,1\}//p' "$0"
    exit 0
    ;;
*) die "\`$what\` is not known; \`build\`, \`single\` or nothing" ;;
esac
PORT=${PORT:-8321}
case $PORT in '' | *[!0-9]*) die "PORT is \`$PORT\`, a number is needed" ;; esac

need_rust
need_node
need_trunk

say "Building the page into dist/"
# trunk reads NO_COLOR as a word of its own and refuses the usual values.
if [ -n "${NO_COLOR-}" ]; then TRUNK_COLOR=never CARGO_TERM_COLOR=never && export TRUNK_COLOR CARGO_TERM_COLOR; fi
profile=web
[ -z "${QUICK-}" ] || profile=quick
env -u NO_COLOR TRUNK_SKIP_VERSION_CHECK=true trunk build --config "$ROOT/Trunk.toml" --cargo-profile "$profile" || die "the page could not be built; the messages stand above"

case $what in
build) say "The page stands in dist/; any static host serves it" ;;
single) node www/single.mjs || die "the single file could not be written" ;;
serve) exec node www/server.mjs dist "$PORT" ;;
esac
