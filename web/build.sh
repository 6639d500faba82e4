#!/usr/bin/env bash
# Builds the pages and the two files that embed them.
# Usage: web/build.sh PAGES_DIR EMBED_DIR [ENGINE.wasm]
set -euo pipefail
pages=$1 embed=$2
export PHREN_ENGINE=${3:-}
cd "$(dirname "$0")"

# Several builds may share this folder, so one at a time may install.
(
  flock 9
  if [ ! -e node_modules/.package-lock.json ] || [ package-lock.json -nt node_modules/.package-lock.json ]; then
    npm ci --no-audit --no-fund --loglevel=error >&2
    touch node_modules/.package-lock.json
  fi
) 9>"${TMPDIR:-/tmp}/phren-npm.lock"

node_modules/.bin/tsc --noEmit
node_modules/.bin/vite build --logLevel warn --outDir "$pages" --emptyOutDir
node embed.mjs "$pages" "$embed"
