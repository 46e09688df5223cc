#!/usr/bin/env bash
# Throws what the description of the interface allows, and what it doesn't, at a running server.
# Fails where the server does (5xx). Usage: tests/api/fuzz.sh [PROGRAM] [EXAMPLES]
# Needs schemathesis (PyPI) as `st`.
set -euo pipefail
program=$(realpath "${1:-target/debug/oddments}")
examples=${2:-50}
log=$(mktemp)
folder=$(mktemp -d)
"$program" init "$folder/light" --demo >/dev/null
"$program" serve --listen 127.0.0.1:0 --workspace "$folder/light" >"$log" &
server=$!
trap 'kill "$server" 2>/dev/null || true; rm -rf "$log" "$folder"' EXIT
for _ in $(seq 100); do
  url=$(sed -n 's/^Listening on //p' "$log")
  [ -n "$url" ] && break
  sleep 0.1
done
export SCHEMATHESIS_HOOKS
SCHEMATHESIS_HOOKS=$(dirname "$(realpath "$0")")/hooks.py
st run "$url/api/v1/openapi.json" --checks not_a_server_error \
  --max-examples "$examples" --seed 1 --request-timeout 30
kill -0 "$server"
# Whatever was thrown at it, the workspace can still be read.
(cd "$folder/light" && "$program" stash list >/dev/null && "$program" gifts list >/dev/null)
