#!/usr/bin/env bash
# Builds a program that asks for no library at all, not even the C library: for a machine whose Linux is
# older than this one's, or a container with nothing else in it. Checks that it is so, and that it grades.
#
#   tests/static.sh [ARGUMENTS OF cargo build]
#
# For the GNU C library; Debian's packages g++ and libc6-dev have the archives that it takes. The
# program is left at target/HOST/release/oddments.
set -euo pipefail
cd "$(dirname "$0")/.."
host=$(rustc -vV | sed -n 's/^host: //p')
case $host in
  *-linux-gnu) ;;
  *) echo "for Linux with the GNU C library, not for $host" >&2; exit 2 ;;
esac
export RUSTFLAGS="${RUSTFLAGS:-} -C target-feature=+crt-static"
# Naming the target keeps the flag from build scripts and macros, which must load.
cargo build --locked --release --target "$host" "$@"
program=target/$host/release/oddments

# No interpreter that would load libraries, and none to load. What can't be told is no yes.
headers=$(readelf --wide --program-headers --dynamic "$program")
grep -q LOAD <<<"$headers"
if grep -E 'INTERP|NEEDED' <<<"$headers"; then
  echo "$program asks for something at run time" >&2
  exit 1
fi
# In a folder with nothing else in it, as root of all there is.
if [ "$(id -u)" = 0 ]; then
  bare=$(mktemp -d)
  trap 'rm -rf "$bare"' EXIT
  cp "$program" "$bare/oddments"
  chroot "$bare" /oddments grade tam --sizes women-m >/dev/null
else
  env -i "$program" grade tam --sizes women-m >/dev/null
fi
ls -l "$program"
echo "asks for nothing at run time"
