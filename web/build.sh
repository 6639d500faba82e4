#!/usr/bin/env bash
# Builds the pages and the two files that embed them.
# Usage: web/build.sh PAGES_DIR EMBED_DIR [ENGINE.wasm FIGURE.wasm MEASURER.wasm MEASURER_MODEL.bin]
set -euo pipefail
pages=$1 embed=$2
export PHREN_ENGINE=${3:-} PHREN_FIGURE=${4:-} PHREN_MEASURER=${5:-} PHREN_MODEL_FILE=${6:-}
cd "$(dirname "$0")"

./install.sh
node_modules/.bin/tsc --noEmit
node_modules/.bin/vite build --logLevel warn --outDir "$pages" --emptyOutDir
node embed.mjs "$pages" "$embed"
