#!/usr/bin/env bash
# More than one machine, tried on this one: a batch spread by Dask, with a worker and a program killed;
# two copies of the server behind HAProxy, one killed under load. Fails where something is missing.
#
#   tests/scale/run.sh [PROGRAM]
#
# Needs python3 with venv, haproxy, and PyPI for what requirements.txt names.
set -euo pipefail
program=$(realpath "${1:-target/release/oddments}")
cd "$(dirname "$0")"
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 -m venv "$folder"
"$folder/bin/pip" install --quiet --disable-pip-version-check --requirement requirements.txt
export PYTHONDONTWRITEBYTECODE=1
timeout --kill-after=10 300 "$folder/bin/python" spread_test.py "$program"
timeout --kill-after=10 300 "$folder/bin/python" balance_test.py "$program"
