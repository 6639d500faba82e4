#!/usr/bin/env python3
"""What bounds memory: `phren replay --sound` of a long log takes no more than of a short one, and a pipe without end is refused.

Usage: replay_memory_test.py PHREN
"""
import os
import pathlib
import subprocess
import sys
import tempfile

failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def most_MB(arguments, stdin=subprocess.DEVNULL):
    child = subprocess.Popen(arguments, stdin=stdin, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    return child.returncode, used.ru_maxrss / 1024


def replayed(program, folder, seconds):
    log = folder / f"{seconds}.jsonl"
    log.write_text('{"phren":"encounter","version":1,"encounter":"e","case":"asthma","seed":"42"}\n'
                   '{"id":"a","t":0.5,"do":"place","aspect":"back","u":-0.4,"v":0.85}\n' + f'{{"id":"z","t":{seconds},"do":"end"}}\n')
    code, size = most_MB([program, "replay", str(log), "--sound", str(folder / f"{seconds}.wav"), "--rate", "48000"])
    check(code == 0, f"{seconds} s are replayed")
    return size


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        short, long = replayed(program, folder, 10), replayed(program, folder, 300)
        file_MB = (folder / "300.wav").stat().st_size / 2**20
        check(long - short < file_MB / 4, f"10 s take {short:.0f} MB, 300 s {long:.0f} MB; the file has {file_MB:.0f} MB")
        with open("/dev/zero", "rb") as endless:
            code, size = most_MB([program, "weigh", "-"], endless)
        check(code != 0 and size < 300, f"an examination without end: exit {code}, {size:.0f} MB")
    print("memory:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
