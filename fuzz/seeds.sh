#!/usr/bin/env bash
# Gives the targets something to begin with: the files of this tree and a few requests, laid into
# `fuzz/corpus`, or into the folder that is named. What is there already is kept.
set -euo pipefail
corpus=$(realpath -m "${1:-$(dirname "$0")/corpus}")
cd "$(dirname "$0")"
count=0

# seed TARGET TEXT: one input.
seed() {
  mkdir -p "$corpus/$1"
  count=$((count + 1))
  printf '%b' "$2" >"$corpus/$1/seed-$count"
}

# copy TARGET FIRST FILE...: an input each, its kind in the first byte.
copy() {
  local target=$1 first=$2
  shift 2
  mkdir -p "$corpus/$target"
  for file in "$@"; do
    count=$((count + 1))
    { printf '%s' "$first"; cat "$file"; } >"$corpus/$target/seed-$count"
  done
}

for text in '12,5 cm' '4 1/2 in' '400 m/100 g' '28 sts / 4 in' '2/28 NeC' '34 g' '5 %' '½"' '30 per 10 cm'; do
  seed units "$text"
done

copy toml 2 ../fixtures/demo/swatches/*.toml
copy toml 3 ../size-tables/*.toml
copy toml 4 ../src/store/defaults/machines.toml
copy toml 0 ../fixtures/demo/yarns/*.toml
copy toml 1 ../fixtures/*/cases/*.toml ../plugins/tam/cases/*.toml
copy manifest '' ../fixtures/square/plugin.toml ../plugins/*/plugin.toml
copy script '' ../fixtures/square/init.luau ../plugins/*/init.luau

# Batch lines, records of the journal, programs.
seed steps '0{"id": 1, "garment": "tam", "sizes": "women-m", "options": {"wedges": 6, "ease": "-8 %"}}'
seed steps '0{"garment": "hat", "measures": {"head_girth": "58 cm"}, "name": "Ruan", "units": "in"}'
seed steps '0{"garment": "cuff", "swatch": {"yarn": "400 m/100 g", "swatch": [{"structure": "plain", "stitches": 40, "widths": ["13.4 cm"], "rows": 60, "heights": ["14 cm"], "weight": "12 g"}]}, "balls": ["shoreline@34g"]}'
seed steps '1{"change":{"seq":1,"time":"2026-09-01T10:00:00Z","command":"yarns add","files":[{"path":"yarns/slate.toml","before":null,"after":"3fb26a985740afbc","at":0,"old":"","new":"name = \\"Slate\\"\\n"}]}}'
seed steps '1{"change":{"seq":2,"time":"","command":"plan","undoes":1,"files":[{"path":"../x/plan.toml","before":null,"after":"cbf29ce484222325","at":0,"old":"","new":""}]}}\n{"done":2}\n{"dropped":1}'
seed steps "2$(printf '%0600d' 7 | sed 's/0000/0\\x02\\x11\\xc8/g')"
seed steps "3$(printf '%0400d' 5 | sed 's/000/\\x41\\x07\\x99/g')"

# Requests: bare (0), with a token (1), of a workspace (2).
own='content-type: application/json\n\n'
form='content-type: application/x-www-form-urlencoded\n\n'
for path in grade pattern walk 'reach?weight=34+g' chart garments garments/tam machines sizes places \
  health metrics openapi.json lists/stash lists/gifts?format=csv plans; do
  seed http "2GET /api/v1/$path"
done
for path in / /grade '/grade/result?garment=tam&sizes=women-m' /chart /garments /garments/hat /swatch \
  '/swatch/result?yarn=400+m/100+g&plain.stitches=40&plain.widths=13&plain.rows=60&plain.heights=14' \
  '/machine?garment=tam&sizes=women-m' /gifts /login /offline.js /assets/machine.js; do
  seed http "0GET $path\naccept: text/html"
done
seed http '0GET /api/v1/grade?garment=tam&sizes=women-m&o.wedges=6&m.head_girth=58&format=csv'
seed http '0GET /api/v1/pattern?garment=cuff&sizes=women-m&units=in&format=markdown'
seed http '0GET /api/v1/grade?garment=hat&sizes=women-m&picture=stripes&ball=shoreline@34g&format=svg'
seed http "0POST /api/v1/grade\n$own"'{"garment": "cuff", "sizes": "women-m", "options": {"ease": "-8 %"}}'
seed http "0POST /api/v1/swatch\n$own"'{"swatch": {"yarn": "400 m/100 g", "swatch": [{"structure": "plain", "stitches": 40, "widths": ["14.2 cm"], "rows": 60, "heights": ["15 cm"]}]}}'
seed http '0POST /api/v1/batch\ncontent-type: application/x-ndjson\n\n{"id": 1, "garment": "cuff", "sizes": "women-m"}\n{"id": [2]}\n3\n'
seed http '1GET /api/v1/sizes\nauthorization: Bearer lamp-and-bell'
seed http "1POST /login\n${form}token=lamp-and-bell&next=/grade"
seed http "2POST /api/v1/lists/stash\n$own"'{"yarn": "slate", "weight": "20 g"}\n====\nPOST /api/v1/undo\n'"$own"'{}\n====\nPOST /api/v1/undo\n'"$own"'{"redo": true}'
seed http "2PATCH /api/v1/lists/stash/bracken-1\n$own"'{"weight": "12 g", "lot": null}\n====\nGET /gifts?did=add'
seed http "2POST /api/v1/lists/people\n$own"'{"name": "Jory", "size": "y8", "likes": {"colours": ["blue"]}}\n====\nPOST /api/v1/lists/gifts\n'"$own"'{"person": "Jory", "garment": ["mitt"], "priority": 3, "due": "2026-12-01"}'
seed http "2POST /api/v1/lists/yarns\n$own"'{"id": "kelp", "name": "Kelp", "count": "400 m/100 g", "fibre": "wool"}'
seed http '2DELETE /api/v1/lists/yarns/slate?dependents=yes\n====\nGET /api/v1/lists/yarns'
seed http "2POST /api/v1/records\n$own"'{"garment": "hat", "size": "women-m", "used": ["hat:bracken-1=12 g"]}'
seed http "2POST /api/v1/plans\n$own"'{"today": "2026-09-01", "work": 1, "seed": 2, "explain": true}'
seed http "2POST /gifts/do\n${form}what=add&list=stash&yarn=slate&weight=20+g"
seed http "2POST /gifts/do\n${form}what=remove&list=people&id=Ruan&dependents=yes"
echo "$count inputs"
