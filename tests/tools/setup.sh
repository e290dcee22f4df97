# shellcheck shell=bash
# Sourced by ./evenhand: runs commands, one line each and never without a time limit, and sets up the tools
# that every machine needs. What only old or restricted machines need is in restricted.sh.

readonly TRUNK_VERSION=0.21.14         # the newest trunk needs a newer compiler than stable Rust
readonly SPLIT_VERSION=0.2.4           # splits the program into parts; by the owners of leptos
readonly GECKODRIVER_VERSION=0.37.1
RUST_VERSION=$(sed -n 's/^rust-version *= *"\(.*\)".*/\1/p' Cargo.toml); readonly RUST_VERSION   # the oldest that will do
readonly WASM=wasm32-unknown-unknown
readonly CACHE=${XDG_CACHE_HOME:-$HOME/.cache}/evenhand
TARGET=$(readlink -m "${CARGO_TARGET_DIR:-target}"); readonly TARGET
readonly STATE=$TARGET/evenhand        # logs, and the mark of the last release build
export PATH=$PATH:${CARGO_HOME:-$HOME/.cargo}/bin
export DEBIAN_FRONTEND=noninteractive CARGO_NET_RETRY=2 CARGO_TERM_COLOR=never RUST_BACKTRACE=0
mkdir -p "$CACHE" "$STATE/logs"

# ---------------------------------------------------------------- running commands

die() { printf '\nevenhand: %s\n' "$*" >&2; exit 1; }
say() { printf '%-30s %s\n' "$1" "$2"; }
have() { command -v "$1" >/dev/null 2>&1; }
first_of() { local name; for name in "$@"; do command -v "$name" && return; done; return 1; }
# at_least WANTED FOUND: compares dotted versions.
at_least() { [ "$(printf '%s\n%s\n' "$1" "$2" | sort -V | head -n 1)" = "$1" ]; }

child=
stopped() {
  [ -z "$child" ] || kill -TERM "$child" 2>/dev/null || true
  printf '\nevenhand: stopped by SIG%s.\n' "$1" >&2
  exit 130
}
for signal in INT TERM HUP; do
  # shellcheck disable=SC2064
  trap "stopped $signal" "$signal"
done

# attempt "what" "hint" SECONDS COMMAND...: one line of output; returns the command's exit status.
attempt() {
  local what=$1 hint=$2 limit=$3 rc=0 start=$SECONDS; shift 3
  log=$STATE/logs/$(tr -cs 'a-zA-Z0-9\n' - <<<"$what").log
  printf '%-30s %s' "$what" "${hint:+$hint ... }"
  # In the background, so that Ctrl-C reaches this script at once and is passed on.
  timeout -k 10 "$limit" "$@" >"$log" 2>&1 </dev/null & child=$!
  wait "$child" || rc=$?
  child=
  case $rc in
    0) printf 'done in %s s\n' $((SECONDS - start)) ;;
    124|137) printf 'timed out after %s s\n' $((SECONDS - start)) ;;
    *) printf 'failed after %s s\n' $((SECONDS - start)) ;;
  esac
  return "$rc"
}

# step: an attempt that shows the end of its log if it fails.
step() {
  local rc=0
  attempt "$@" || rc=$?
  [ "$rc" -ne 0 ] || return 0
  grep -vE '^ +(Compiling|Checking|Downloaded|Downloading) ' "$log" | tail -n "${log_lines:-40}" | sed 's/^/    /' >&2
  echo "    (full log: $log)" >&2
  return "$rc"
}

# lock FOLDER: two runs must not build into one folder; the second waits for the first.
lock() {
  have flock || return 0
  exec 9>"$1/lock"
  flock -n 9 && return
  say "another run is active" "waiting for it"
  flock -w 2400 9 || die "The other run did not finish within 40 minutes."
}
unlock() { exec 9>&-; }

# ---------------------------------------------------------------- tools that every machine needs

# The folders of the tools below, each followed by a colon.
tools_path=

setup_rust() {
  local version
  # A rustup without a toolchain has a cargo that only complains, perhaps after a long download.
  version=$(timeout 30 cargo --version 2>/dev/null | awk '{ print $2 }') || true
  if at_least "$RUST_VERSION" "$version"; then say "Rust" "already there ($version)"; else use_debian_rust; fi
  have cc || need "A C compiler and linker" gcc libc6-dev
}

# The standard library for the browser: with the compiler, from rustup, or built from Debian's source.
setup_wasm() {
  local library; library=$(rustc --print target-libdir --target "$WASM" 2>/dev/null) || true
  if compgen -G "$library/libstd-*.rlib" >/dev/null; then
    say "Rust library for the browser" "already there"
  elif ! has_debian_wasm; then
    # Without a network rustup would hang for minutes.
    { have rustup && attempt "Rust library for the browser" "asking rustup, at most 30 s" 30 rustup target add "$WASM"; } ||
      build_debian_wasm
  fi
}

# setup_tool CRATE VERSION BINARY MINUTES [cargo install flags]: on PATH, in the cache, or built once.
setup_tool() {
  local crate=$1 version=$2 binary=$3 minutes=$4 root=$CACHE/$1-$2; shift 4
  if [ "$("$binary" --version 2>/dev/null | awk '{ print $2 }')" = "$version" ]; then
    say "$crate $version" "already there"
    return
  fi
  if [ -x "$root/bin/$binary" ]; then
    say "$crate $version" "already there (cached)"
  else
    # Unoptimized, a tool takes a second longer for each build, but minutes less to make.
    step "$crate $version" "building it once, about $minutes min" 2400 \
      env -u CARGO_TARGET_DIR -u RUSTFLAGS CARGO_PROFILE_RELEASE_OPT_LEVEL=0 CARGO_PROFILE_RELEASE_LTO=off \
      CARGO_PROFILE_RELEASE_CODEGEN_UNITS=16 cargo install "$crate" --version "$version" --root "$root" "$@" ||
      die "$crate $version could not be built. Without a network it must already be there."
  fi
  tools_path=$root/bin:$tools_path
}

setup_node() {
  local installed=tests/node_modules/.installed-lock
  if ! have node || ! have npm; then need "node or npm" nodejs npm; fi
  if cmp -s tests/package-lock.json "$installed"; then
    say "wasm-opt, axe and ajv (npm)" "already there"
  else
    step "wasm-opt, axe and ajv (npm)" "" 300 npm ci --prefix tests --no-audit --no-fund ||
      die "npm could not download the packages of tests/package-lock.json; is there a network?"
    cp tests/package-lock.json "$installed"
  fi
  tools_path=$PWD/tests/node_modules/.bin:$tools_path
}

setup_build() {
  local host bindgen
  lock "$CACHE"
  need_certificates
  setup_rust
  host=$(rustc -vV | sed -n 's/^host: //p')
  step "crates of the lock file" "" 600 cargo fetch "$@" --target "$WASM" --target "$host" ||
    die "The crates could not be downloaded: see above. Either there is no network, or Cargo.lock does not match."
  setup_wasm
  bindgen=$(awk '$0 == "name = \"wasm-bindgen\"" { getline; gsub(/[^0-9.]/, ""); print }' Cargo.lock)
  setup_tool wasm-bindgen-cli "$bindgen" wasm-bindgen 2 --bin wasm-bindgen
  setup_tool wasm_split_cli_support "$SPLIT_VERSION" wasm-split-cli 1 --features build-binary
  setup_tool trunk "$TRUNK_VERSION" trunk 5 --locked --no-default-features --features rustls
  setup_node
  unlock
}

setup_linters() {
  local missing=()
  cargo clippy --version >/dev/null 2>&1 || missing+=(clippy)
  cargo fmt --version >/dev/null 2>&1 || missing+=(rustfmt)
  if [ ${#missing[@]} -eq 0 ]; then
    say "clippy and rustfmt" "already there"
  elif [ "$(command -v cargo)" = /usr/bin/cargo ]; then
    need "clippy or rustfmt" rust-web-clippy rustfmt-web
  else
    step "clippy and rustfmt" "asking rustup" 60 rustup component add "${missing[@]}" ||
      die "${missing[*]} could not be installed for this Rust toolchain."
  fi
}

setup_browser() {
  local browsers=(chromium chromium-browser google-chrome google-chrome-stable)
  local drivers=(chromedriver /usr/lib/chromium-browser/chromedriver) browser driver major found="already there"
  if ! first_of "${browsers[@]}" >/dev/null || ! first_of "${drivers[@]}" >/dev/null; then
    found=installed
    need "Chromium or its driver" chromium chromium-driver
  fi
  have pdftotext || need "The reader of PDF files" poppler-utils
  browser=$(first_of "${browsers[@]}"); driver=$(first_of "${drivers[@]}")
  major=$("$driver" --version | grep -oE '[0-9]+' | head -n 1)
  "$browser" --version 2>/dev/null | grep -qE "\b$major\." ||
    die "$browser and $driver have different versions; install matching ones."
  say "browser and driver" "$found ($browser, version $major)"
  export EVENHAND_BROWSER=$browser EVENHAND_DRIVER=$driver
}

# The other engines. WebKit's driver is a Debian package, Firefox's is a crate.
setup_other_engines() {
  local missing=()
  have WebKitWebDriver || missing+=(webkit2gtk-driver)
  have Xvfb || missing+=(xvfb)
  first_of firefox firefox-esr >/dev/null || missing+=(firefox-esr)
  if [ ${#missing[@]} -eq 0 ]; then
    say "WebKit and Firefox" "already there"
  else
    need "WebKit, Firefox or a virtual screen" "${missing[@]}"
  fi
  setup_tool geckodriver "$GECKODRIVER_VERSION" geckodriver 3 --locked
  EVENHAND_GECKODRIVER=$(PATH=$tools_path$PATH command -v geckodriver)
  export EVENHAND_GECKODRIVER
}
