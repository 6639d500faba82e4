#!/usr/bin/env python3
"""Runs the README's commands as they stand there: first `make start`, until it serves, then the tour.

Usage: scripts/check_readme.py   (from anywhere; builds what `make` builds)
"""
import pathlib
import re
import signal
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[1]
PHREN = ROOT / "build/release/phren"
SERVES_WITHIN_S = 3600


def start() -> None:
    """`make start` examines the demo patient, names its report, and serves until it is stopped."""
    started = subprocess.Popen(["make", "start"], cwd=ROOT, stdout=subprocess.PIPE, text=True,
                               start_new_session=True)
    signal.alarm(SERVES_WITHIN_S)  # ends this script if nothing is served by then
    seen = []
    try:
        for line in started.stdout:
            seen.append(line)
            if "Phren is at http://" in line:
                break
    finally:
        signal.alarm(0)
        subprocess.run(["pkill", "-INT", "-g", str(started.pid)], check=False)
        try:
            started.wait(timeout=20)
        except subprocess.TimeoutExpired:
            subprocess.run(["pkill", "-KILL", "-g", str(started.pid)], check=False)
            started.wait()
    text = "".join(seen)
    for wanted in ("Phren is at http://", "report.html", "asthma"):
        if wanted not in text:
            sys.exit(f"make start did not print '{wanted}':\n{text[-3000:]}")
    print("make start: examined, named the report, served")


def tour() -> None:
    lines = re.findall(r"^    (\$phren [^#\n]+)", (ROOT / "README.md").read_text(encoding="utf-8"),
                       re.MULTILINE)
    lines = [line.strip() for line in lines if not line.startswith("$phren serve")]
    if len(lines) < 6:
        sys.exit(f"only {len(lines)} commands found in README.md")
    with tempfile.TemporaryDirectory() as folder:
        (pathlib.Path(folder) / "out").mkdir()
        for line in lines:
            done = subprocess.run(["bash", "-c", line.replace("$phren", str(PHREN))], cwd=folder,
                                  capture_output=True, text=True)
            if done.returncode != 0:
                sys.exit(f"README: `{line}` gave exit code {done.returncode}\n{done.stderr}")
            print(f"README: {line}")


start()
tour()
