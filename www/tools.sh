# Installs every tool that the build and the tests need, pinned, and only where it is missing.
#
# Sourced by www/serve.sh and tests/run.sh with ROOT set to the project's folder; POSIX sh, no terminal needed. Cargo
# tools go to tests/.tools unless the right version is on PATH already; nothing is written outside the project but what
# rustup and the system's package manager install.

RUST_PINNED=1.95.0
TRUNK_PINNED=0.21.14
TOOLS=$ROOT/tests/.tools

say() { printf '\n== %s\n' "$*" >&2; }
note() { printf '   %s\n' "$*" >&2; }
die() {
    printf 'error: %s\n' "$*" >&2
    exit 1
}
have() { command -v "$1" >/dev/null 2>&1; }

# Prefixes a command with the right to install packages: nothing as root, sudo where it asks no password; else fails.
as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    elif have sudo && sudo -n true 2>/dev/null; then
        sudo -n "$@"
    else
        return 1
    fi
}

# system_install WHAT APT DNF PACMAN APK: installs a package under the name that the system's package manager knows.
system_install() {
    if have apt-get; then
        note "installing $1 with apt-get (package $2)"
        as_root apt-get update -q && as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q $2
    elif have dnf; then
        note "installing $1 with dnf (package $3)"
        as_root dnf install -y $3
    elif have pacman; then
        note "installing $1 with pacman (package $4)"
        as_root pacman -S --noconfirm --needed $4
    elif have apk; then
        note "installing $1 with apk (package $5)"
        as_root apk add $5
    else
        return 1
    fi >&2
}

# A linker, which Rust needs and rustup does not bring.
need_linker() {
    have cc && return 0
    say "A C linker (cc) is missing"
    system_install "a C linker" build-essential "gcc glibc-devel" base-devel build-base && have cc && return 0
    die "no C linker (cc) found; install one (Debian: build-essential, Fedora: gcc) and run this again"
}

# Rust with the wasm target. need_rust exact: the pinned release, so that the lints are those that the code was held to.
need_rust() {
    PATH=$PATH:${CARGO_HOME:-$HOME/.cargo}/bin
    have cargo || die "cargo not found; install Rust from https://rustup.rs and run this again"
    need_linker
    rust_now=$(rustc --version 2>/dev/null | cut -d' ' -f2)
    rust_ok=no
    case $rust_now in
    1.95.*) rust_ok=yes ;;
    1.9[6-9].* | 1.[1-9][0-9][0-9].* | [2-9].*) [ "${1-}" = exact ] || rust_ok=yes ;;
    esac
    if [ $rust_ok = no ]; then
        have rustup || die "Rust ${rust_now:-of no version} found, $RUST_PINNED needed, and no rustup to install it; get it from https://rustup.rs"
        export RUSTUP_TOOLCHAIN=$RUST_PINNED
        if ! rustc --version >/dev/null 2>&1; then
            say "Installing Rust $RUST_PINNED beside Rust ${rust_now:-none}"
            rustup toolchain install "$RUST_PINNED" --profile minimal -c clippy -c rustfmt >&2 || die "rustup could not install Rust $RUST_PINNED"
        fi
    fi
    if [ "${1-}" = exact ] && { ! cargo fmt --version >/dev/null 2>&1 || ! cargo clippy --version >/dev/null 2>&1; }; then
        say "Adding rustfmt and clippy"
        rustup component add rustfmt clippy >&2 || die "rustup could not add rustfmt and clippy"
    fi
    [ -d "$(rustc --print sysroot)/lib/rustlib/wasm32-unknown-unknown/lib" ] && return 0
    have rustup || die "this Rust has no wasm32-unknown-unknown target and there is no rustup to add it; get it from https://rustup.rs"
    say "Adding the wasm32-unknown-unknown target"
    rustup target add wasm32-unknown-unknown >&2 || die "rustup could not add the target wasm32-unknown-unknown"
}

# cargo_tool COMMAND CRATE VERSION [cargo install options]: one command-line tool from crates.io, built when missing.
cargo_tool() {
    tool=$1 crate=$2 version=$3
    shift 3
    case $("$tool" --version 2>/dev/null) in
    "$tool $version" | "$tool $version "*) return 0 ;;
    esac
    say "Compiling $crate $version into tests/.tools (once; some minutes)"
    note "it reports each package it compiles; an interrupted run goes on where it stopped"
    # A build tool runs for seconds: compile it quickly rather than make it fast. RUSTFLAGS meant for us are not for it.
    env -u RUSTFLAGS -u CARGO_BUILD_TARGET CARGO_TARGET_DIR="$TOOLS/build" CARGO_PROFILE_RELEASE_LTO=off \
        CARGO_PROFILE_RELEASE_CODEGEN_UNITS=16 CARGO_PROFILE_RELEASE_OPT_LEVEL=1 CARGO_PROFILE_RELEASE_DEBUG=0 \
        cargo install "$crate" --version "=$version" --root "$TOOLS/cargo" --force "$@" >&2 ||
        die "$crate $version could not be compiled; its messages stand above"
    rm -rf "$TOOLS/build"
}

need_trunk() {
    PATH=$TOOLS/cargo/bin:$PATH
    cargo_tool trunk trunk "$TRUNK_PINNED" --locked --no-default-features --features rustls
    # Exactly the version of the library in Cargo.lock: the two must agree on their interface.
    bindgen=$(awk '/^name = "wasm-bindgen"$/ { getline; gsub(/"/, "", $3); print $3; exit }' "$ROOT/Cargo.lock")
    [ -n "$bindgen" ] || die "Cargo.lock names no wasm-bindgen"
    cargo_tool wasm-bindgen wasm-bindgen-cli "$bindgen"
}

# Node and the packages of www/package-lock.json.
need_node() {
    have node && have npm || {
        say "Node is missing"
        system_install Node "nodejs npm" "nodejs npm" "nodejs npm" "nodejs npm" && have node && have npm ||
            die "node or npm not found; install Node 20 or newer and run this again"
    }
    node_major=$(node -p 'process.versions.node.split(".")[0]')
    [ "$node_major" -ge 20 ] || die "Node $(node --version) found, 20 or newer needed"
    lock=$ROOT/www/package-lock.json
    cmp -s "$lock" "$ROOT/www/node_modules/.installed-lock.json" && return 0
    say "Installing the pinned Node packages (www/package-lock.json)"
    (cd "$ROOT/www" && npm ci --no-audit --no-fund --no-update-notifier) >&2 || die "npm ci failed in www/"
    cp "$lock" "$ROOT/www/node_modules/.installed-lock.json"
}

# A Chromium: CHROMIUM, one on PATH, the system's package, or the one that playwright-core pins. Sets and exports CHROMIUM.
need_chromium() {
    if [ -n "${CHROMIUM-}" ]; then
        "$CHROMIUM" --version >/dev/null 2>&1 || die "CHROMIUM is \`$CHROMIUM\`, which does not run; give the path of a Chromium or leave it unset"
        export CHROMIUM
        return 0
    fi
    find_chromium && return 0
    say "Chromium is missing"
    if system_install Chromium chromium chromium chromium chromium && find_chromium; then return 0; fi
    note "no system package; taking the Chromium that playwright-core pins, into tests/.tools"
    export PLAYWRIGHT_BROWSERS_PATH="$TOOLS/browsers"
    [ "$(id -u)" = 0 ] && have apt-get && (cd "$ROOT/www" && npx --no-install playwright-core install-deps chromium) >&2
    (cd "$ROOT/www" && npx --no-install playwright-core install --only-shell chromium) >&2
    CHROMIUM=$(find "$TOOLS/browsers" -type f \( -name chrome-headless-shell -o -name headless_shell -o -name chrome \) 2>/dev/null | head -n 1)
    [ -n "$CHROMIUM" ] && "$CHROMIUM" --version >/dev/null 2>&1 ||
        die "no Chromium found and none could be installed; install it (Debian: apt-get install chromium) or set CHROMIUM to its path"
    export CHROMIUM
}

find_chromium() {
    for name in chromium chromium-browser google-chrome google-chrome-stable chrome; do
        if have "$name" && "$name" --version >/dev/null 2>&1; then
            CHROMIUM=$(command -v "$name")
            export CHROMIUM
            return 0
        fi
    done
    return 1
}

# need_python REQUIREMENTS NAME: a virtual environment tests/.tools/NAME with these pinned packages; sets PYTHON.
need_python() {
    requirements=$1 venv=$TOOLS/$2
    PYTHON=$venv/bin/python
    [ -x "$PYTHON" ] && cmp -s "$requirements" "$venv/installed.txt" && return 0
    have python3 && python3 -c 'import venv, ensurepip' 2>/dev/null || {
        say "Python 3 with venv is missing"
        system_install "Python 3" "python3 python3-venv" python3 python python3 &&
            python3 -c 'import venv, ensurepip' 2>/dev/null || die "python3 with its venv module not found; install it and run this again"
    }
    say "Installing Python packages of ${requirements#"$ROOT"/} into tests/.tools/$2"
    rm -rf "$venv"
    python3 -m venv "$venv" >&2 && "$PYTHON" -m pip install --disable-pip-version-check --no-input -r "$requirements" >&2 ||
        die "the Python packages of $requirements could not be installed"
    cp "$requirements" "$venv/installed.txt"
}
