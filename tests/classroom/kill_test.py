#!/usr/bin/env python3
"""kill -9 of the server while 200 learners act: every acknowledged action is there, none twice.

Usage: kill_test.py PHREN CLASS_LOAD [SEED]
"""
import collections
import json
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time

from serving import Serving

LEARNERS, SECONDS, PACE_MS = 200, 60, 300
seed = int(sys.argv[3]) if len(sys.argv) > 3 else random.randrange(1 << 30)
print("seed", seed)
random.seed(seed)


def stored(program, records):
    """Actions in the store, by encounter, in their order."""
    text = subprocess.run([program, "records", "backup", "--records", str(records)], capture_output=True, text=True, check=True).stdout
    actions = collections.defaultdict(list)
    for line in text.splitlines():
        row = json.loads(line)
        if row.get("table") == "action":
            actions[row["encounter_id"]].append((row["position"], row["action_id"]))
    return {encounter: [name for _, name in sorted(rows)] for encounter, rows in actions.items()}


def compare(acks_file, actions, words):
    acknowledged = [line.split() for line in pathlib.Path(acks_file).read_text().splitlines() if not line.endswith("?")]
    unsure = {tuple(line.split()[:2]) for line in pathlib.Path(acks_file).read_text().splitlines() if line.endswith("?")}
    lost = [one for one in acknowledged if one[1] not in actions.get(one[0], [])]
    twice = [(encounter, name) for encounter, names in actions.items() for name, count in collections.Counter(names).items() if count > 1]
    kept = sum(len(names) for names in actions.values())
    known = {tuple(one) for one in acknowledged} | unsure
    strangers = [(encounter, name) for encounter, names in actions.items() for name in names if (encounter, name) not in known]
    print(f"{words}: {len(acknowledged)} acknowledged, {len(unsure)} under way, {kept} stored, {len(lost)} lost, {len(twice)} twice")
    return acknowledged, not lost and not twice, strangers


def main():
    program, load = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        serving = Serving(program, work / "records")
        code, station = serving.open_station(LEARNERS, work / "keys")
        arguments = [load, serving.host, serving.port, code, str(work / "keys"), str(SECONDS), str(PACE_MS)]
        running = subprocess.Popen(arguments + [str(work / "acks1")], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        # All are there and in the middle of it.
        while sum(one["actions"] for one in serving.ask("GET", f"stations/{station}/board")["learners"]) < 3 * LEARNERS:
            time.sleep(0.5)
        time.sleep(random.uniform(0.0, 1.5))
        serving.process.send_signal(signal.SIGKILL)
        serving.process.wait()
        print("before the kill:", running.communicate(timeout=60)[0].strip())
        first, is_first_good, strangers = compare(work / "acks1", stored(program, work / "records"), "after the kill")
        # The same learners come back to the same encounters and go on.
        again = Serving(program, work / "records", int(serving.port))
        out = subprocess.run(arguments[:5] + ["3", str(PACE_MS), str(work / "acks2")], capture_output=True, text=True, timeout=120).stdout
        print("after the restart:", out.strip())
        is_stopped_well = again.stop() == 0
        actions = stored(program, work / "records")
        second, is_second_good, _ = compare(work / "acks2", actions, "in the end")
        is_all_there = all(name in actions.get(encounter, []) for encounter, name in first + second)
        passed = is_first_good and is_second_good and is_all_there and not strangers and is_stopped_well \
            and len(first) > LEARNERS and len(second) > LEARNERS
        print("kill test:", "passed" if passed else "FAILED")
        return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main())
