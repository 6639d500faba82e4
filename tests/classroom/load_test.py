#!/usr/bin/env python3
"""300 learners at once: how long an action takes, and whether the server's memory grows.

Usage: load_test.py PHREN CLASS_LOAD [SECONDS] [LEARNERS] [PACE_MS]
Fails when an action was refused or lost, or memory grew by a fifth between the first third and the end.
The time is printed beside the wanted 100 ms, never a reason to fail: machines differ.
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import threading

from serving import Serving

seconds = float(sys.argv[3]) if len(sys.argv) > 3 else 20.0
learners = int(sys.argv[4]) if len(sys.argv) > 4 else 300
pace_ms = float(sys.argv[5]) if len(sys.argv) > 5 else 1000.0


def main():
    program, load = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        serving = Serving(program, work / "records")
        code, _ = serving.open_station(learners, work / "keys")
        sizes, over = [], threading.Event()
        cpu_before_s = serving.cpu_s()

        def watch():
            while not over.wait(max(0.5, seconds / 60)):
                sizes.append(serving.resident_MB())

        watcher = threading.Thread(target=watch)
        watcher.start()
        out = subprocess.run([load, serving.host, serving.port, code, str(work / "keys"), str(seconds), str(pace_ms), str(work / "acks")],
                             capture_output=True, text=True, timeout=seconds + 120)
        over.set()
        watcher.join()
        figures = json.loads(out.stdout)
        print(out.stderr[:2000], end="")
        print(json.dumps(figures))
        early, late = max(sizes[len(sizes) // 4:len(sizes) // 3 + 1]), max(sizes[-3:])
        print(f"{learners} learners, one action every {pace_ms:.0f} ms each, {seconds:.0f} s: 99th percentile {figures['p99_ms']:.1f} ms "
              f"(wanted: below 100 ms); median {figures['p50_ms']:.1f} ms; {figures['actions_per_s']:.0f} actions/s; "
              f"load average of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        cpu_ms = 1000 * (serving.cpu_s() - cpu_before_s) / max(1, figures["actions"])
        print(f"processor time of the server: {cpu_ms:.2f} ms for each action, joining included")
        print(f"memory: {early:.1f} MB after a third, {late:.1f} MB at the end, {max(sizes):.1f} MB at most")
        is_flat = late < 1.2 * early
        passed = figures["refused"] == 0 and figures["broken"] == 0 and figures["begun"] == learners and is_flat and serving.stop() == 0
        print("load test:", "passed" if passed else "FAILED")
        return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main())
