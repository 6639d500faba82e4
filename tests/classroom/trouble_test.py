#!/usr/bin/env python3
"""A store in trouble, told to the client, to the operator and to whoever watches, and named by `phren doctor`: its lock held by another program, a
second server, damaged pages, an older version, files that others may read.

Usage: trouble_test.py PHREN
"""
import json
import pathlib
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error

from serving import Serving

failures = 0
program = str(pathlib.Path(sys.argv[1]).resolve())


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words, flush=True)


def doctor(records):
    run = subprocess.run([program, "doctor", "--json", "--records", str(records)], capture_output=True, text=True, timeout=120)
    found = json.loads(run.stdout)
    return run.returncode, {one["what"]: one for one in found["findings"]}


def refused(server, *question):
    try:
        server.ask(*question)
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode(), error.headers
    return 200, "", {}


class OperatorLines(threading.Thread):
    def __init__(self, process):
        super().__init__(daemon=True)
        self.process, self.lines = process, []
        self.start()

    def run(self):
        for line in self.process.stderr:
            try:
                self.lines.append(json.loads(line))
            except ValueError:
                self.lines.append({"what": line})

    def has(self, what):
        return [one for one in self.lines if one["what"] == what and one.get("do")]


def lock_held(folder):
    server = Serving(program, folder, stderr=subprocess.PIPE)
    said = OperatorLines(server.process)
    try:
        check(json.loads(json.dumps(server.ask("GET", "health/ready")))["ready"], "a sound server is ready")
        code, findings = doctor(folder)
        check(code == 0 and "process" in findings["server"]["says"], "the doctor finds nothing wrong, and the server that runs")
        second = subprocess.run([program, "serve", "--listen", "127.0.0.1:0", "--records", str(folder)], capture_output=True, text=True, timeout=60)
        check(second.returncode == 1 and "belongs to one server" in second.stderr, "a second server on the same store is refused")
        restored = subprocess.run([program, "records", "restore", "--file", "/dev/null", "--records", str(folder)], capture_output=True, text=True, timeout=60)
        check(restored.returncode == 1 and "belongs to one server" in restored.stderr, "and so is a restore under it")
        other = sqlite3.connect(folder / "records.db", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        status, words, headers = refused(server, "POST", "classes", {"title": "Held"})
        check(status == 503 and "held by another program" in words and "Retry-After" in headers and "session" not in words, f"lock held: the client is told so ({status})")
        status, words, _ = refused(server, "GET", "health/ready")
        check(status == 503 and json.loads(words)["store"] == "store_busy", "readiness says store_busy")
        check(refused(server, "GET", "health")[0] == 200, "the server still lives")
        check(bool(said.has("store_busy")), "the operator's log says what to do")
        code, findings = doctor(folder)
        check(code == 1 and any("held by another program" in one["says"] for one in findings.values()), "the doctor names it")
        other.execute("ROLLBACK")
        status = 0
        for _ in range(40):
            status = refused(server, "POST", "classes", {"title": "Free"})[0]
            if status == 200:
                break
            time.sleep(0.5)
        check(status == 200 and server.ask("GET", "health/ready")["ready"], "once it is free all goes on, and readiness says so")
    finally:
        check(server.stop() == 0, "SIGTERM ends the server with 0")


def damaged(folder):
    file = folder / "records.db"
    with sqlite3.connect(file) as db:
        db.executemany("INSERT INTO login_failure (login, at_ms) VALUES (?, ?)", [("x" * 60, i) for i in range(5000)])
    db.close()
    with sqlite3.connect(file) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    whole = file.read_bytes()
    pages = len(whole) // 4096
    hurt = bytearray(whole)
    for page in range(pages * 3 // 4, pages):
        hurt[page * 4096:page * 4096 + 64] = b"\xee" * 64
    file.write_bytes(hurt)
    started = subprocess.run([program, "serve", "--listen", "127.0.0.1:0", "--records", str(folder)], capture_output=True, text=True, timeout=60)
    check(started.returncode == 1 and "damaged" in started.stderr and "backup" in started.stderr, "a damaged store does not start, and the operator is told what to do")
    code, findings = doctor(folder)
    check(code == 1 and "damaged" in findings["store"]["says"], "the doctor names it")
    file.write_bytes(whole)


def older(folder):
    with sqlite3.connect(folder / "records.db") as db:
        db.execute("DELETE FROM schema_version WHERE version > 5")
    db.close()
    listed = subprocess.run([program, "records", "list", "--records", str(folder)], capture_output=True, text=True, timeout=60)
    check(listed.returncode == 1 and "records migrate" in listed.stderr, "an older store is not changed by a look into it")
    code, findings = doctor(folder)
    check(code == 1 and "version 5" in findings["store"]["says"], "the doctor names it")
    with sqlite3.connect(folder / "records.db") as db:
        db.execute("INSERT INTO schema_version (version) VALUES (6)")
    db.close()


def open_to_others(folder):
    (folder / "records.db").chmod(0o644)
    folder.chmod(0o755)
    code, findings = doctor(folder)
    check(code == 1 and "records.db" in findings["who may read the records"]["says"], "the doctor says that others may read the store")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        lock_held(folder)
        damaged(folder)
        older(folder)
        open_to_others(folder)
    print("trouble:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
