#!/usr/bin/env bash
# Requests per second and 99th percentile of `phren serve` on the loopback, beside nginx serving the
# same pages from files. Usage: bench/http_bench.sh PHREN_PROGRAM PAGES_DIR
# wrk and the servers share the machine's cores, so figures are for comparing, not for promising.
set -euo pipefail
program=$1 pages=$2 seconds=${3:-3}
for tool in wrk nginx; do command -v $tool >/dev/null || { echo "http bench: $tool is not installed: skipped"; exit 0; }; done
work=$(mktemp -d)
cp -r "$pages" "$work/pages"  # where nginx, which drops its rights, may read
cleanup() { [ -z "${phren:-}" ] || kill "$phren" 2>/dev/null || true; [ -z "${nginx:-}" ] || kill "$nginx" 2>/dev/null || true; wait 2>/dev/null || true; rm -rf "$work"; }
trap cleanup EXIT

"$program" serve --listen 127.0.0.1:0 --records "$work/records" > "$work/address" & phren=$!
for _ in $(seq 100); do grep -q http "$work/address" && break; sleep 0.05; done
address=$(grep -o 'http://[^ ]*' "$work/address"); address=${address%/}

port=$((20000 + RANDOM % 20000))
cat > "$work/nginx.conf" <<CONF
daemon off; worker_processes 1; pid $work/nginx.pid; error_log /dev/null;
events { worker_connections 1024; }
http {
  access_log off; types { text/html html; text/javascript js; text/css css; application/wasm wasm; }
  client_body_temp_path $work; proxy_temp_path $work; fastcgi_temp_path $work; uwsgi_temp_path $work; scgi_temp_path $work;
  server { listen 127.0.0.1:$port; root $work/pages; keepalive_requests 1000000; }
}
CONF
chmod -R a+rX "$work"
nginx -c "$work/nginx.conf" & nginx=$!
sleep 0.5

script=$(cd "$pages" && ls assets/index-*.js | head -1)
measure() {  # words, url, connections
  wrk -t1 -c"$3" -d"${seconds}s" --latency "$2" > "$work/out" || true
  local rate p99
  rate=$(awk '/Requests\/sec/ {print $2}' "$work/out"); p99=$(awk '$1 == "99%" {print $2}' "$work/out")
  if grep -q 'Non-2xx' "$work/out"; then echo "http bench: $1 gave errors"; cat "$work/out"; exit 1; fi
  printf '%-34s %4d connections %10s requests/s, 99th percentile %s\n' "$1" "$3" "$rate" "$p99"
  last=$rate
}
for connections in 64 256; do
  measure "phren, JSON (sites)" "$address/api/v1/sites" $connections
  measure "phren, front page" "$address/" $connections; ours_page=$last
  measure "nginx, front page" "http://127.0.0.1:$port/index.html" $connections; theirs_page=$last
  measure "phren, script" "$address/$script" $connections; ours=$last
  measure "nginx, script" "http://127.0.0.1:$port/$script" $connections; theirs=$last
  awk -v a="$ours_page" -v b="$theirs_page" -v c="$ours" -v d="$theirs" -v n=$connections \
    'BEGIN {printf "ratio to nginx at %d connections: front page %.2f, script %.2f\n", n, a / b, c / d}'
done
