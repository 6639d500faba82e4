#!/usr/bin/env bash
# Installs everything Phren needs to build, run and be tested on Debian 12. Quick when all is there.
set -euo pipefail

packages=(
  # compilers and build
  build-essential g++ cmake ninja-build ccache pkg-config git python3
  clang-19 clang-tidy-19 clang-format-19 lld-19 libclang-rt-19-dev
  # the browser build of the engine
  wasi-libc libc++-19-dev-wasm32 libc++abi-19-dev-wasm32 libclang-rt-19-dev-wasm32
  # libraries
  libboost-dev libsndfile1-dev libsoxr-dev libcairo2-dev libtomlplusplus-dev
  nlohmann-json3-dev libcli11-dev libfmt-dev libexpected-dev libeigen3-dev libsoci-dev libsqlite3-dev libpq-dev libsodium-dev libqrencode-dev libssl-dev
  # tests and benchmarks
  libgtest-dev libgmock-dev libbenchmark-dev libsundials-dev postgresql python3-jsonschema poppler-utils openssl
  chromium wrk nginx-light
)
# The pages; a newer Node.js than Debian's brings its own npm.
command -v npm >/dev/null || packages+=(nodejs npm)

missing=()
for package in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing+=("$package")
done
[ ${#missing[@]} -eq 0 ] && exit 0

sudo=""
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null || { echo "Phren needs these packages; install them as root: ${missing[*]}" >&2; exit 1; }
  sudo=sudo
fi
echo "Installing ${#missing[@]} Debian packages: ${missing[*]}"
log=$(mktemp)
if ! { $sudo apt-get update -qq && DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${missing[@]}"; } >"$log" 2>&1; then
  cat "$log" >&2
  echo "Installing packages failed; the lines above are from apt-get." >&2
  exit 1
fi
rm -f "$log"
