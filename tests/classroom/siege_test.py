#!/usr/bin/env python3
"""Learners at a station while somebody wants to stop them: nobody, then each attack in turn, then SIGTERM while it still runs.

  bomb     recordings that decode to 48 hours, over and over, without login
  flood    requests from 64 connections as fast as they are answered
  batch    one learner repeats 200 stored actions over 16 connections
  headers  two addresses hold every connection they can get and send their headers a byte at a time

Usage: siege_test.py PHREN CLASS_LOAD [--judge] [SECONDS] [LEARNERS] [ATTACK ...]
Fails when a learner did not come in, an action was refused or lost, or the server did not end; and when fewer than half as many actions came through
as without an attack. With --judge, on a machine without other work: also when the 99th percentile is 250 ms or more, or SIGTERM takes 10 s or more.
"""
import json
import pathlib
import socket
import subprocess
import sys
import tempfile
import threading
import time

from flac import silence
from serving import Serving

is_judged = "--judge" in sys.argv
given = [one for one in sys.argv[1:] if one != "--judge"]
seconds = float(given[2]) if len(given) > 2 else 8.0
learners = int(given[3]) if len(given) > 3 else 300
END_WITHIN_S, P99_BELOW_MS, LEAST_SHARE = 10.0, 250.0, 0.5


def request(method, path, body=b"", kind="application/json", headers=""):
    return f"{method} /api/v1/{path} HTTP/1.1\r\nHost: x\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n{headers}\r\n".encode() + body


def ask_again(server, over, message, remote, counts):
    """One connection: sends, reads the answer, sends again; connects anew when it is closed."""
    while not over.is_set():
        try:
            with socket.create_connection((server.host, int(server.port)), 30, (remote, 0)) as line:
                line.settimeout(30)
                while not over.is_set():
                    line.sendall(message)
                    said = line.recv(1 << 16)
                    if not said:
                        break
                    counts[said[9:12].decode()] = counts.get(said[9:12].decode(), 0) + 1
                    if b"Connection: close" in said:
                        break
        except OSError:
            over.wait(0.05)


def hold_headers(server, over, remote, counts):
    held = []
    while not over.is_set():
        for line in held:
            try:
                line.send(b"X")
            except OSError:
                pass
        while len(held) < 1024 and not over.is_set():
            try:
                line = socket.create_connection((server.host, int(server.port)), 2, (remote, 0))
                line.setblocking(False)
                line.send(b"GET / HTTP/1.1\r\nX-Slow: ")
                held.append(line)
                counts["held"] = counts.get("held", 0) + 1
            except OSError:
                break
        over.wait(1.0)
        still = []
        for line in held:
            try:
                if line.recv(1, socket.MSG_PEEK) == b"":
                    line.close()
                    continue
            except BlockingIOError:
                pass
            except OSError:
                line.close()
                continue
            still.append(line)
        held = still
    for line in held:
        line.close()


def learner_of(server, code, key):
    """Joins and begins; returns the headers of its session and where it acts."""
    with socket.create_connection((server.host, int(server.port)), 30) as line:
        line.sendall(request("POST", "join", json.dumps({"code": code, "key": key}).encode()))
        head, body = line.recv(1 << 16).split(b"\r\n\r\n", 1)
        cookie = next(one for one in head.decode().split("\r\n") if one.startswith("Set-Cookie: "))[12:].split(";")[0]
        joined = json.loads(body)
        headers = f"Cookie: {cookie}\r\nX-Phren-CSRF: {joined['csrf']}\r\n"
        line.sendall(request("POST", "encounters", json.dumps({"station_id": joined["station_id"]}).encode(), headers=headers))
        return headers, json.loads(line.recv(1 << 16).split(b"\r\n\r\n", 1)[1])["id"]


def attackers(kind, server, over, counts, code, key):
    if kind == "nobody":
        return []
    if kind == "bomb":
        message = request("POST", "measurement", silence(48 * 3600), "application/octet-stream")
        return [threading.Thread(target=ask_again, args=(server, over, message, f"127.0.7.{i}", counts)) for i in range(1, 9)]
    if kind == "flood":
        return [threading.Thread(target=ask_again, args=(server, over, request("GET", "session"), f"127.0.8.{i % 4 + 1}", counts)) for i in range(64)]
    if kind == "batch":
        headers, encounter = learner_of(server, code, key)
        actions = [{"id": f"r{i}", "t": round(0.01 * i, 3), "do": "lift"} for i in range(200)]
        message = request("POST", f"encounters/{encounter}/actions", json.dumps({"actions": actions}).encode(), headers=headers)
        return [threading.Thread(target=ask_again, args=(server, over, message, "127.0.9.1", counts)) for _ in range(16)]
    return [threading.Thread(target=hold_headers, args=(server, over, f"127.0.10.{i}", counts)) for i in (1, 2)]


def besiege(program, load, kind, peace):
    """`peace`: actions without an attack; none yet: 0. Returns whether it passed, and the actions."""
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        server = Serving(program, work / "records")
        code, _ = server.open_station(learners + 1, work / "keys")
        *keys, own = (work / "keys").read_text().split()
        (work / "keys").write_text("\n".join(keys) + "\n")
        over, counts = threading.Event(), {}
        threads = attackers(kind, server, over, counts, code, own)
        for one in threads:
            one.start()
        time.sleep(1.0)
        run = subprocess.run([load, server.host, server.port, code, str(work / "keys"), str(seconds), "1000", str(work / "acks")], capture_output=True, text=True,
                             timeout=seconds + 300)
        figures = json.loads(run.stdout)
        begun = time.monotonic()
        server.process.terminate()
        try:
            status = server.process.wait(timeout=60)
        except subprocess.TimeoutExpired:
            server.process.kill()
            status = "killed"
        ended_s = time.monotonic() - begun
        over.set()
        for one in threads:
            one.join()
        share = figures["actions"] / peace if peace else 1.0
        passed = figures["refused"] == 0 and figures["broken"] == 0 and figures["begun"] == learners and status == 0 and share >= LEAST_SHARE
        is_quick = figures["p99_ms"] < P99_BELOW_MS and ended_s < END_WITHIN_S
        print(f"{kind}: {figures['begun']} of {learners} learners came in, {figures['actions']} actions ({share:.2f} of those in peace, wanted: {LEAST_SHARE} or more), {figures['refused']} refused, "
              f"{figures['broken']} broken off; 99th percentile {figures['p99_ms']:.0f} ms (wanted: below {P99_BELOW_MS:.0f} ms), median {figures['p50_ms']:.1f} ms; the attacker got {counts}; "
              f"SIGTERM ended the server with {status} after {ended_s:.1f} s (wanted: below {END_WITHIN_S:.0f} s): "
              f"{'passed' if passed and (is_quick or not is_judged) else 'FAILED ' + run.stderr[:500]}{'' if is_quick or is_judged else ', times missed'}", flush=True)
        return passed and (is_quick or not is_judged), figures["actions"]


if __name__ == "__main__":
    good, peace = besiege(given[0], given[1], "nobody", 0)
    results = [good] + [besiege(given[0], given[1], kind, peace)[0] for kind in given[4:] or ["bomb", "flood", "batch", "headers"]]
    print("siege:", "passed" if all(results) else "FAILED")
    sys.exit(0 if all(results) else 1)
