#!/usr/bin/env bash
# Installs the pages' packages by the lock file; quick when all is there.
set -euo pipefail
cd "$(dirname "$0")"
# Several builds may share this folder, so one at a time may install.
(
  flock 9
  if [ ! -e node_modules/.package-lock.json ] || [ package-lock.json -nt node_modules/.package-lock.json ]; then
    npm ci --no-audit --no-fund --loglevel=error >&2
    touch node_modules/.package-lock.json
  fi
) 9>"${TMPDIR:-/tmp}/phren-npm.lock"
