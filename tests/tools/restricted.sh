# shellcheck shell=bash
# Sourced by ./evenhand: what only old or restricted machines need. A bare Debian gets packages; without a recent
# Rust it gets Debian's; and where rustup cannot download, the standard library for the browser is built from
# Debian's source and kept in the cache.

apt_ready=
# apt_install PACKAGE...: installs Debian packages; never removes any.
apt_install() {
  local root=() options=(-o Acquire::http::Timeout=30 -o Acquire::https::Timeout=30 -o Acquire::Retries=1
    -o DPkg::Lock::Timeout=120)
  have apt-get || return 1
  if [ "$(id -u)" -ne 0 ]; then
    have sudo || return 1
    sudo -n true 2>/dev/null || { [ -t 0 ] && sudo -v; } || return 1
    root=(sudo -n)
  fi
  if [ -z "$apt_ready" ]; then
    step "list of Debian packages" "" 180 "${root[@]}" apt-get "${options[@]}" update || true
    apt_ready=yes
  fi
  step "Debian packages" "$*" 900 "${root[@]}" \
    apt-get "${options[@]}" install -y --no-remove --no-install-recommends "$@"
}

# need "what" PACKAGE...: installs what is missing, or says what to do.
need() {
  local what=$1; shift
  apt_install "$@" || die "$what is missing. Installing it takes Debian's apt-get, a network, and root or sudo. \
Install it yourself ($*), then run the same command again."
}

# A bare Debian has no certificate authorities, and without them cargo trusts no registry.
need_certificates() {
  if have apt-get && [ ! -e /etc/ssl/certs/ca-certificates.crt ] && [ -z "${SSL_CERT_FILE:-}" ]; then
    need "The list of certificate authorities" ca-certificates
  fi
}

# ---------------------------------------------------------------- Debian's Rust

debian_rustc() { PATH=/usr/bin:/bin rustc -vV 2>/dev/null | sed -n "s/^$1: \([0-9.]*\).*/\1/p"; }

has_debian_rust() { [ -x /usr/bin/cargo ] && at_least "$RUST_VERSION" "$(debian_rustc release)"; }

# In place of a Rust that is missing or too old.
use_debian_rust() {
  local found="already there"
  if ! has_debian_rust; then
    found=installed
    need "Rust $RUST_VERSION or newer" rustc-web cargo-web
  fi
  has_debian_rust || die "Debian's Rust is $(debian_rustc release), but this needs $RUST_VERSION. Install a newer one (rustup)."
  PATH=/usr/bin:/bin:$PATH; unset RUSTUP_TOOLCHAIN
  say "Rust" "$found ($(debian_rustc release))"
}

# The linker for the browser must be at least as new as the compiler's LLVM.
wasm_linker() {
  local llvm name; llvm=$(debian_rustc "LLVM version")
  for name in "wasm-ld-${llvm%%.*}" wasm-ld; do
    have "$name" && at_least "${llvm%%.*}" "$("$name" --version | grep -oE '[0-9]+' | head -n 1)" && { echo "$name"; return; }
  done
  return 1
}

# Set when the browser build uses Debian's compiler with the library in this folder; everything else stays with
# the default toolchain.
debian_sysroot=

has_debian_wasm() {
  debian_sysroot=$(compgen -G "$CACHE/sysroot-$(debian_rustc release)-*" | head -n 1) || true
  if [ -n "$debian_sysroot" ] && wasm_linker >/dev/null; then
    say "Rust library for the browser" "already there (built from Debian's source)"
  else
    debian_sysroot=
    return 1
  fi
}

build_debian_wasm() {
  local scratch=$CACHE/std-scratch library=$CACHE/std-scratch/target/$WASM/release/deps sum
  has_debian_rust || need "Debian's Rust" rustc-web cargo-web
  [ -d /usr/lib/rustlib/src/rust/library ] || need "The source of Rust's standard library" rust-web-src
  wasm_linker >/dev/null || need "The linker for the browser" "lld-$(debian_rustc "LLVM version" | cut -d. -f1)"
  rm -rf "$scratch"; mkdir -p "$scratch/src"; : >"$scratch/src/lib.rs"
  printf '[package]\nname = "scratch"\nedition = "2021"\n\n[workspace]\n' >"$scratch/Cargo.toml"
  # Without embed-bitcode link-time optimization finds no bitcode in the library.
  step "Rust library for the browser" "building it once, about 1 min" 900 \
    env -C "$scratch" -u RUSTUP_TOOLCHAIN -u CARGO_ENCODED_RUSTFLAGS -u CARGO_TARGET_DIR -u CARGO_BUILD_TARGET \
    PATH=/usr/bin:/bin RUSTC_BOOTSTRAP=1 RUSTFLAGS=-Cembed-bitcode=yes \
    cargo build --release --target "$WASM" -Zbuild-std=std,panic_abort,proc_macro ||
    die "Rust's library for the browser is missing. With rustup and a network: rustup target add $WASM"
  # Named after its content, so that cargo compiles anew for a library that differs.
  sum=$(cat "$library"/libstd-*.rlib "$library"/libcore-*.rlib | sha256sum | cut -c1-12)
  debian_sysroot=$CACHE/sysroot-$(debian_rustc release)-$sum
  mkdir -p "$scratch/sysroot/lib/rustlib/$WASM/lib"
  find "$library" \( -name '*.rlib' -o -name '*.rmeta' \) ! -name '*scratch*' \
    -exec cp -t "$scratch/sysroot/lib/rustlib/$WASM/lib" {} +
  rm -rf "$debian_sysroot"; mv "$scratch/sysroot" "$debian_sysroot"; rm -rf "$scratch"
}
