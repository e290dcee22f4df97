# shellcheck shell=bash
# Sourced by ./evenhand: builds the app, the one-button app that the budgets compare it with, and the fuzz targets.

# Commands to put before cargo and trunk: the environment of a build for the browser, and of its release.
for_browser=() for_release=()
set_environment() {
  # The paths of this machine stay out of the program: that is smaller, and the same everywhere.
  local flags="--remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}/registry/src=registry" path=$PATH
  # What makes the release small: see "Where the size goes" in docs/BUDGETS.md.
  local small='--cfg erase_components --cfg sha2_backend="soft" --cfg sha2_backend_soft="compact"'
  for_browser=(env -u RUSTFLAGS -u CARGO_ENCODED_RUSTFLAGS)
  if [ -n "$debian_sysroot" ]; then
    flags+=" --sysroot=$debian_sysroot" path=/usr/bin:/bin:$PATH
    for_browser+=(-u RUSTUP_TOOLCHAIN CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER="$(wasm_linker)")
  fi
  # trunk accepts NO_COLOR only as true or false.
  for_browser+=(PATH="$tools_path$path" NO_COLOR=true)
  for_release=("${for_browser[@]}" CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS="$flags $small")
  for_browser+=(CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS="$flags")
}

build_release() {
  local mark=$STATE/built made_of=(core app public Cargo.toml Cargo.lock Trunk.toml evenhand tests/tools tests/package-lock.json)
  local made_by; made_by="$PWD, $("${for_browser[@]}" rustc -V)"
  lock "$STATE"
  if [ -e dist/index.html ] && [ "$(cat "$mark" 2>/dev/null)" = "$made_by" ] &&
    [ -z "$(find "${made_of[@]}" -newer "$mark" -print -quit)" ]; then
    say "release build" "already there, nothing changed"
  else
    rm -f "$mark"
    printf '%s' "$made_by" >"$mark.new"
    step "release build" "" 2400 "${for_release[@]}" trunk build --release --offline || { unlock; return 1; }
    # As old as the beginning of the build: what was changed during it is newer.
    mv "$mark.new" "$mark"
  fi
  unlock
}

build_quick() {
  lock "$STATE"
  rm -f "$STATE/built"
  step "quick build" "not optimized" 1200 "${for_browser[@]}" trunk build --offline || die "The quick build failed: see above."
  unlock
}

# Both programs with the names of their functions in $STATE/named, the one-button app built as the release is.
build_compared() {
  local program bindgen; bindgen=$(PATH=$tools_path$PATH command -v wasm-bindgen)
  step "one-button app" "" 1200 "${for_release[@]}" cargo build --release -p evenhand-floor --target "$WASM" --offline || return
  for program in evenhand-floor evenhand-app; do
    step "function names of $program" "" 60 "$bindgen" --target web --no-typescript --out-dir "$STATE/named" \
      "$TARGET/$WASM/release/$program.wasm" || return
  done
  step "wasm-opt of the one-button app" "" 120 tests/node_modules/.bin/wasm-opt -Os --all-features \
    "$STATE/named/evenhand-floor_bg.wasm" -o "$STATE/named/floor.wasm"
}

# libFuzzer is C++ that cargo builds. The compiler's own pass counts the branches, so that no nightly is needed.
build_fuzz() {
  local host=$1 option flags="--cfg fuzzing -Cpasses=sancov-module -Ccodegen-units=1" options=(level=4 inline-8bit-counters pc-table)
  # What is compared with what leads to words and signatures, and takes half of the time.
  [ "${EVENHAND_COMPARES:-yes}" = no ] || options+=(trace-compares)
  for option in "${options[@]}"; do
    flags+=" -Cllvm-args=-sanitizer-coverage-$option"
  done
  # With --target, so that build scripts are built without these flags.
  step "fuzz targets" "" 1200 env RUSTFLAGS="$flags" cargo build --locked --manifest-path tests/fuzz/Cargo.toml \
    --release --target "$host" --target-dir "$TARGET/fuzz" || die "The fuzz targets could not be built."
}
