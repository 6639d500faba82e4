#!/usr/bin/env python3
"""The machine's clock jumps back 60 s, forward 20 min and 13 h, and back again, while twenty learners are at a station; then the server is started anew
with its clock 20 min ahead. Nothing that was done is lost, and everybody goes on.

Usage: clock_test.py PHREN FAULTS_LIBRARY
"""
import http.client
import json
import os
import pathlib
import sys
import tempfile
import time

from serving import Serving

LEARNERS = 20
JUMPS_s = (-60, 20 * 60, 13 * 3600, 0)
failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words, flush=True)


class Learner:
    """A page: it counts seconds from when it began, keeps what was not taken, and sends it again."""

    def __init__(self, server, name, code, key):
        self.server, self.name, self.sent, self.waiting, self.cookie, self.csrf = server, name, [], [], "", ""
        status, joined = self.ask("POST", "join", {"code": code, "key": key})
        assert status == 200, joined
        self.csrf = joined["csrf"]
        status, begun = self.ask("POST", "encounters", {"station_id": joined["station_id"]})
        assert status == 201, begun
        self.encounter, self.began_s = begun["id"], time.monotonic()

    def ask(self, method, path, body=None):
        line = http.client.HTTPConnection(self.server.host, int(self.server.port), timeout=60)
        line.request(method, "/api/v1/" + path, json.dumps(body) if body is not None else None,
                     {"Content-Type": "application/json", "Cookie": self.cookie, "X-Phren-CSRF": self.csrf})
        answer = line.getresponse()
        if answer.headers.get("Set-Cookie"):
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
        said = json.loads(answer.read())
        line.close()
        return answer.status, said

    def seconds(self):
        return round(time.monotonic() - self.began_s - 0.001, 3)

    def act(self):
        """A deed now; the status of the answer. What a page may send again waits."""
        self.waiting.append({"id": f"a{len(self.sent) + len(self.waiting)}", "t": self.seconds(), "do": "lift"})
        status, said = self.ask("POST", f"encounters/{self.encounter}/actions", {"actions": self.waiting})
        self.last = said.get("detail", "")
        if status == 200:
            self.sent += [one["id"] for one in self.waiting]
            self.waiting = []
        return status


def everybody(learners, words):
    statuses = []
    for _ in range(60):
        statuses = [one.act() for one in learners]
        if set(statuses) == {200} or min(set(statuses) - {200}) < 500:
            break
        time.sleep(1.0)
    check(set(statuses) == {200}, f"{words}: {statuses.count(200)} of {len(learners)} go on{'' if set(statuses) == {200} else f': {sorted(set(statuses))}'}")


def main():
    program, library = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        clock = work / "clock"

        def set_clock(seconds):
            (work / "next").write_text(str(seconds))
            (work / "next").rename(clock)
        set_clock(0)
        environment = dict(os.environ, LD_PRELOAD=library, PHREN_TEST_CLOCK=str(clock))
        server = Serving(program, work / "records", environment=environment)
        code, station = server.open_station(LEARNERS, work / "keys")
        learners = [Learner(server, f"learner {i}", code, key) for i, key in enumerate((work / "keys").read_text().split())]
        everybody(learners, "before")
        for jump_s in JUMPS_s:
            set_clock(jump_s)
            time.sleep(2.0)
            everybody(learners, f"the clock {jump_s:+} s beside the true time")
        check(server.stop() == 0, "SIGTERM ends the server with 0")
        set_clock(20 * 60)
        server = Serving(program, work / "records", int(server.port), environment=environment)
        everybody(learners, "the server started anew with its clock 20 min ahead")
        set_clock(-60)
        everybody(learners, "and 60 s behind")
        ended = [one.ask("POST", f"encounters/{one.encounter}/end", {"id": "end", "t": one.seconds()})[0] for one in learners]
        check(set(ended) == {200}, f"all {len(ended)} end")
        lost = 0
        for one in learners:
            line = http.client.HTTPConnection(server.host, int(server.port), timeout=60)
            line.request("GET", f"/api/v1/encounters/{one.encounter}/log", headers={"Cookie": one.cookie})
            log = [json.loads(text).get("id") for text in line.getresponse().read().decode().splitlines()[1:]]
            lost += len([name for name in one.sent if name not in log])
        check(lost == 0, f"of {sum(len(one.sent) for one in learners)} acknowledged deeds {lost} are lost")
        check(server.stop() == 0, "SIGTERM ends the server with 0")
    print("clock:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
