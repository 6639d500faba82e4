#!/usr/bin/env python3
"""Everything of others that goes with the program is named in THIRD_PARTY.md: the libraries that it is linked with, what the pages are made of, and what
the browser engine contains. A library that is not listed here fails, so that somebody looks at its licence.

Usage: notices_test.py PHREN
"""
import json
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
NAMED = {  # needed library: the words by which THIRD_PARTY.md names it
    "ssl": "OpenSSL", "crypto": "OpenSSL", "qrencode": "libqrencode", "sndfile": "libsndfile", "soci_core": "SOCI", "soci_sqlite3": "SOCI",
    "soci_postgresql": "SOCI", "sqlite3": "SQLite", "pq": "libpq", "sodium": "libsodium", "cairo": "Cairo", "fmt": "{fmt}", "stdc++": "libstdc++", "gcc_s": "libgcc",
    "gomp": "libgomp", "FLAC": "FLAC", "vorbis": "Vorbis", "vorbisenc": "Vorbis", "opus": "Opus", "ogg": "Ogg", "mpg123": "mpg123", "mp3lame": "LAME",
}
SYSTEM = {"c", "m", "pthread", "dl", "rt"}  # of every Debian
failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def needed(file):
    dynamic = subprocess.run(["readelf", "-Wd", str(file)], capture_output=True, text=True, check=True).stdout
    return [re.sub(r"(-[\d.]+)?\.so.*$", "", name).removeprefix("lib") for name in re.findall(r"NEEDED.*\[(.+?)\]", dynamic)]


def main():
    program = pathlib.Path(sys.argv[1])
    text = (ROOT / "THIRD_PARTY.md").read_text()
    libraries = set(needed(program))
    paths = dict(re.findall(r"(\S+\.so\S*) => (\S+)", subprocess.run(["ldd", str(program)], capture_output=True, text=True, check=True).stdout))
    for name, path in paths.items():  # what libsndfile brings reads what others send, so it is named too
        if name.startswith("libsndfile"):
            libraries |= set(needed(path))
    for name in sorted(libraries - SYSTEM):
        if name.startswith("ld-linux"):
            continue
        check(name in NAMED and NAMED[name] in text, f"lib{name}: {NAMED.get(name, 'unknown here')}")
    for name in json.loads((ROOT / "web" / "package.json").read_text())["dependencies"]:
        check(re.search(rf"{re.escape(name)}\b", text, re.IGNORECASE) is not None, f"npm {name}")
    notices = text.split("## Notices of what is shipped", 1)[-1]
    for name in ("Preact", "@preact/signals", "wasi-libc", "musl", "LLVM"):
        check(name in notices, f"the notice of {name}")
    print("notices:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
