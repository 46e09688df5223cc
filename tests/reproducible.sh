#!/usr/bin/env bash
# Builds the program twice, in two folders with two homes of cargo, and compares the bytes.
#
#   tests/reproducible.sh FOLDER [ARGUMENTS OF cargo build]
#
# FOLDER must not exist. It takes two release builds; what was committed last is built. To save time:
#   tests/reproducible.sh FOLDER --config 'profile.release.lto=false'
set -euo pipefail

[ $# -ge 1 ] || { echo "usage: $0 FOLDER [ARGUMENTS OF cargo build]" >&2; exit 2; }
work=$1
shift
mkdir "$work"
work=$(cd "$work" && pwd)
cd "$(dirname "$0")/.."
commit=$(git rev-parse HEAD)
home=${CARGO_HOME:-$HOME/.cargo}
if [ ! -d "$home/registry" ]; then cargo fetch --locked; fi

# The same paths in both programs, for Rust and for the C++ of the script engine.
build() {
  local tree=$1 home=$2
  shift 2
  git clone --quiet --no-checkout . "$tree"
  git -C "$tree" checkout --quiet --detach "$commit"
  (
    cd "$tree"
    export CARGO_HOME=$home CARGO_TARGET_DIR=$tree/target
    export RUSTFLAGS="--remap-path-prefix=$tree=/oddments --remap-path-prefix=$home=/cargo"
    export CXXFLAGS="-ffile-prefix-map=$tree=/oddments -ffile-prefix-map=$home=/cargo"
    export CFLAGS=$CXXFLAGS
    cargo build --locked --release "$@"
  )
}

build "$work/one" "$home" "$@"
mkdir "$work/home"
cp -r --reflink=auto "$home/registry" "$work/home/"
cp "$home"/config* "$work/home/" 2>/dev/null || true
build "$work/further/down/two" "$work/home" "$@"

sha256sum "$work/one/target/release/oddments" "$work/further/down/two/target/release/oddments"
cmp "$work/one/target/release/oddments" "$work/further/down/two/target/release/oddments"
echo "the same bytes"
