#!/usr/bin/env python3
"""What can befall a store under a running server, on SQLite and on PostgreSQL: its disk full, the database gone and back, its lock held, a page damaged,
the server (and PostgreSQL) killed. Learners act all the while: what was acknowledged is there in the end, and client, operator's log, readiness and
`phren doctor` each say what is so.

Usage: faults_test.py PHREN FAULTS_LIBRARY [sqlite|postgresql ...]
"""
import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error

from clock_test import Learner
from postgres import Postgres
from serving import Serving

LEARNERS = 4
failures = 0
program, library = (str(pathlib.Path(one).resolve()) for one in sys.argv[1:3])


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words, flush=True)


def until(is_so, seconds=60.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if is_so():
            return True
        time.sleep(0.3)
    return False


class Store:
    """One kind of store, and how to harm and heal it."""

    def __init__(self, work):
        self.full_flag = work / "full"
        self.folder = work / "records"

    def environment(self):
        return dict(os.environ)

    def fill(self):
        self.full_flag.touch()

    def empty(self):
        self.full_flag.unlink()


class Sqlite(Store):
    name = "sqlite"

    def __init__(self, work):
        super().__init__(work)
        self.where = str(self.folder)
        self.file = self.folder / "records.db"

    def environment(self):
        return dict(os.environ, LD_PRELOAD=library, PHREN_TEST_FULL=f"{self.full_flag}:{self.folder}/")

    def lock(self):
        return subprocess.Popen([sys.executable, "-c", "import sqlite3,sys,time; db = sqlite3.connect(sys.argv[1], isolation_level=None); db.execute('BEGIN IMMEDIATE'); time.sleep(600)",
                                 str(self.file)])

    def unlock(self, held):
        held.kill()
        held.wait()

    def damage(self):
        data = bytearray(self.file.read_bytes())
        pages = len(data) // 4096
        for page in range(pages // 2, pages):
            data[page * 4096:page * 4096 + 64] = b"\xee" * 64
        self.file.write_bytes(data)

    def settle(self):
        """Everything out of the journal, into the file, while no server runs."""
        subprocess.run([sys.executable, "-c", "import sqlite3,sys; db = sqlite3.connect(sys.argv[1]); db.execute('PRAGMA wal_checkpoint(TRUNCATE)')", str(self.file)], check=True)

    def remove(self):
        pass


class Postgresql(Store):
    name = "postgresql"

    def __init__(self, work):
        super().__init__(work)
        # Its user has to see the flag.
        self.flags = pathlib.Path(tempfile.mkdtemp(prefix="phren-flag-"))
        self.flags.chmod(0o755)
        self.full_flag = self.flags / "full"
        open_library = self.flags / "faults.so"
        open_library.write_bytes(pathlib.Path(library).read_bytes())
        open_library.chmod(0o755)
        self.postgres = Postgres({"LD_PRELOAD": str(open_library), "PHREN_TEST_FULL": f"{self.full_flag}:/tmp/phren-pg-"})
        # The journal is on a disk of its own, as is usual: what is full is that of the tables.
        self.where = self.postgres.connection

    def lock(self):
        return self.postgres.hold("audit, encounter, action, heartbeat")

    def unlock(self, held):
        self.postgres.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE query LIKE '%pg_sleep(600)%' AND pid <> pg_backend_pid()")
        held.wait()

    def damage(self):
        path = self.postgres.data / self.postgres.sql("SELECT pg_relation_filepath('action')")
        self.postgres.sql("CHECKPOINT")
        self.postgres.stop("fast")
        data = bytearray(path.read_bytes())
        for page in range(len(data) // 8192):
            data[page * 8192 + 100:page * 8192 + 164] = b"\xee" * 64
        path.write_bytes(data)
        self.postgres.start()

    def settle(self):
        pass

    def remove(self):
        self.postgres.remove()
        for one in self.flags.iterdir():
            one.unlink()
        self.flags.rmdir()


class Running:
    """A server on the store, what it says to its operator, and learners who act."""

    def __init__(self, store, work, port=0):
        self.store = store
        self.server = Serving(program, store.where, port, environment=store.environment(), stderr=subprocess.PIPE)
        self.lines = []
        threading.Thread(target=self.read, daemon=True).start()

    def read(self):
        for line in self.server.process.stderr:
            try:
                self.lines.append(json.loads(line))
            except ValueError:
                self.lines.append({"what": line})

    def told(self, what):
        return any(one["what"] == what and one.get("do") for one in self.lines)

    def ready(self):
        """The status, and the word for the store."""
        try:
            return 200, self.server.ask("GET", "health/ready")["store"]
        except urllib.error.HTTPError as error:
            return error.code, json.loads(error.read()).get("store", "")


class Crew:
    """Learners who act until told to stop; what was answered with 200 is acknowledged."""

    def __init__(self, learners):
        self.learners, self.over, self.said = learners, threading.Event(), []
        self.threads = [threading.Thread(target=self.work, args=(one,), daemon=True) for one in learners]
        for one in self.threads:
            one.start()

    def work(self, learner):
        while not self.over.is_set():
            try:
                status = learner.act()
                self.said.append((status, learner.last))
            except OSError:
                self.said.append((0, "no line"))
                self.over.wait(0.5)
            self.over.wait(0.1)

    def acknowledged(self):
        return sum(len(one.sent) for one in self.learners)

    def stop(self):
        self.over.set()
        for one in self.threads:
            one.join(60)


def doctor(store):
    run = subprocess.run([program, "doctor", "--json", "--records", store.where], capture_output=True, text=True, timeout=180, env=store.environment())
    return run.returncode, " | ".join(f"{one['what']}: {one['says']}" for one in json.loads(run.stdout)["findings"] if not one["is_well"])


def stored(store):
    run = subprocess.run([program, "records", "backup", "--records", store.where], capture_output=True, text=True, timeout=180)
    rows = [json.loads(line) for line in run.stdout.splitlines()]
    return {(one["encounter_id"], one["action_id"]) for one in rows if one.get("table") == "action"}


# What each trouble is called, and by which words a client and the doctor's reader know it.
WORDS = {"store_full": "full|0 MB free", "store_gone": "cannot be reached|cannot be opened|connection", "store_busy": "held by another program", "store_damaged": "cannot be read|damaged"}


def trouble(running, crew, what, harm, heal, with_doctor=True):
    """Harms the store under the server, looks at what is told to whom, heals it, and sees everybody go on."""
    name = running.store.name
    running.lines.clear()
    crew.said.clear()
    undo = harm()
    seen = until(lambda: any(status == 503 and re.search(WORDS[what], said) for status, said in crew.said))
    check(seen, f"{name}, {what}: the client is told so: {sorted({(status, said[:90]) for status, said in crew.said if status != 200})[:3]}")
    check(not any("SELECT" in said or "INSERT" in said or "session" in said for status, said in crew.said if status != 200), f"{name}, {what}: without statements, and not as an expired session")
    check(not any(status in (401, 500) for status, _ in crew.said), f"{name}, {what}: neither 401 nor 500")
    check(until(lambda: running.ready() == (503, what), 30), f"{name}, {what}: readiness says {running.ready()}")
    check(until(lambda: running.told(what), 30), f"{name}, {what}: the operator is told what to do")
    if with_doctor:
        code, says = doctor(running.store)
        check(code == 1 and re.search(WORDS[what], says) is not None, f"{name}, {what}: the doctor: {says[:160]}")
    heal(undo)
    before = crew.acknowledged()
    check(until(lambda: crew.acknowledged() >= before + 2 * LEARNERS and running.ready()[0] == 200), f"{name}, {what}: once it is mended all go on, and readiness says {running.ready()}")


def kept(store, crew, words):
    there = stored(store)
    lost = [(one.encounter, name) for one in crew.learners for name in one.sent if (one.encounter, name) not in there]
    check(not lost and crew.acknowledged() > 0, f"{store.name}, {words}: of {crew.acknowledged()} acknowledged deeds {len(lost)} are lost")


def befall(kind):
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        store = kind(work)
        try:
            running = Running(store, work)
            code, _ = running.server.open_station(LEARNERS, work / "keys")
            learners = [Learner(running.server, f"learner {i}", code, key) for i, key in enumerate((work / "keys").read_text().split())]
            crew = Crew(learners)
            trouble(running, crew, "store_full", store.fill, lambda _: store.empty())
            trouble(running, crew, "store_busy", store.lock, store.unlock)
            if kind is Postgresql:
                trouble(running, crew, "store_gone", lambda: store.postgres.stop("immediate"), lambda _: store.postgres.start())
            running.server.process.send_signal(signal.SIGKILL)
            running.server.process.wait()
            running = Running(store, work, int(running.server.port))
            before = crew.acknowledged()
            check(until(lambda: crew.acknowledged() >= before + 2 * LEARNERS), f"{store.name}: killed and started anew, all go on")
            crew.stop()
            kept(store, crew, "after all of it and a kill")
            check(running.server.stop() == 0, f"{store.name}: SIGTERM ends the server with 0")
            store.settle()
            store.damage()
            started = subprocess.run([program, "serve", "--listen", "127.0.0.1:0", "--records", store.where], capture_output=True, text=True, timeout=120)
            check(started.returncode == 1 and re.search("damaged|cannot be read", started.stderr) is not None, f"{store.name}: a damaged store does not start: {started.stderr[:160]!r}")
            code, says = doctor(store)
            check(code == 1 and re.search(WORDS["store_damaged"], says) is not None, f"{store.name}: the doctor names the damage: {says[:160]}")
        finally:
            store.remove()


if __name__ == "__main__":
    kinds = sys.argv[3:] or ["sqlite", "postgresql"]
    for one in (Sqlite, Postgresql):
        if one.name in kinds:
            befall(one)
    print("faults:", "passed" if failures == 0 else f"{failures} failed")
    sys.exit(1 if failures else 0)
