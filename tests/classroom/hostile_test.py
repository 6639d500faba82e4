#!/usr/bin/env python3
"""Requests that mean harm, over real HTTP: malformed, smuggled, too large, slow, and thousands of random ones made from docs/openapi.json.

No request may end the server or be answered with a fault (500), a request whose end is in doubt is answered once and its connection closed, and an
honest client beside all of it is answered every time.

Usage: hostile_test.py PHREN [RANDOM_LINES] [SEED]     the seed is printed; giving it repeats a run; "60s" instead of a number: for so long
"""
import json
import pathlib
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time

from flac import silence
from serving import Serving

ROOT = pathlib.Path(__file__).resolve().parents[2]
most = sys.argv[2] if len(sys.argv) > 2 else "3000"
count, seconds = (10**9, float(most[:-1])) if most.endswith("s") else (int(most), 1e9)
seed = int(sys.argv[3]) if len(sys.argv) > 3 else random.SystemRandom().getrandbits(32)
failures = 0
END = b"\r\n\r\n"
HIDDEN = b"GET /api/v1/session HTTP/1.1\r\nHost: x\r\n\r\n"


def check(is_true, words):
    global failures
    failures += not is_true
    if not is_true:
        print("  FAIL " + words, flush=True)


def statuses_of(said):
    """The status of each answer; bodies are JSON or pages of ours and hold no status line."""
    return [int(one[:3]) for one in said.split(b"HTTP/1.1 ")[1:] if one[:3].isdigit()]


def exchange(server, message, remote="127.0.5.1", patience=10.0, ends=True):
    """Sends bytes, ends the sending side, reads until the server closes: what came back, and whether it closed."""
    with socket.create_connection((server.host, int(server.port)), 20, (remote, 0)) as line:
        line.settimeout(patience)
        said = b""
        try:
            line.sendall(message)
            if ends:
                line.shutdown(socket.SHUT_WR)
            while part := line.recv(1 << 16):
                said += part
            return said, True
        except TimeoutError:
            return said, False
        except OSError:
            return said, True


MALFORMED = [
    b"\r\n\r\n", b"\0" * 100, b"GET\r\n\r\n", b"GET / \r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET / HTTP/1.1\r\nHost x\r\n\r\n", b"GET / HTTP/1.1\r\n: x\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\nA\0B: x\r\n\r\n", b"GET / HTTP/1.1\r\nHost: x\r\nA: x\0y\r\n\r\n", b"GET / HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\nContent-Length: 99999999999999999999999\r\n\r\n", b"POST /api/v1/join HTTP/1.1\r\nHost: x\r\nContent-Length: 0x10\r\n\r\n",
    b"GET http://[::1 HTTP/1.1\r\nHost: x\r\n\r\n", b"GET /%zz HTTP/1.1\r\nHost: x\r\n\r\n", b"GET /\x7f HTTP/1.1\r\nHost: x\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"CONNECT x:80 HTTP/1.1\r\nHost: x\r\n\r\n", b"TRACE / HTTP/1.1\r\nHost: x\r\n\r\n", b"GET * HTTP/1.1\r\nHost: x\r\n\r\n",
]


def malformed(server):
    for message in MALFORMED:
        said, closed = exchange(server, message)
        check(closed and all(400 <= one < 600 and one != 500 for one in statuses_of(said)), f"malformed {message[:60]!r}: {statuses_of(said)}, closed: {closed}")
    print(f"  malformed: {len(MALFORMED)}")


def smuggled(server):
    """Each could hide HIDDEN from one reader and show it to another (RFC 9112 6.3 and 11.2)."""
    plain = b"GET /api/v1/health HTTP/1.1\r\nHost: x\r\n\r\n"
    said, _ = exchange(server, plain + HIDDEN)
    check(statuses_of(said) == [200, 200], f"two whole requests on one line get two answers: {statuses_of(said)}")

    def post(headers, body):
        return b"POST /api/v1/impression HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n" + headers + END + body
    chunks = b"2\r\n{}\r\n0\r\n\r\n"
    doubtful = [
        post(b"Content-Length: 4\r\nTransfer-Encoding: chunked", chunks + HIDDEN), post(b"Transfer-Encoding: chunked\r\nContent-Length: 4", chunks + HIDDEN),
        post(b"Content-Length: 2\r\nContent-Length: 45", b"{}" + HIDDEN), post(b"Content-Length: 2, 45", b"{}" + HIDDEN), post(b"Content-Length: +2", b"{}" + HIDDEN),
        post(b"Content-Length: 2\r\n 0", b"{}" + HIDDEN), post(b"Content-Length : 2", b"{}" + HIDDEN), post(b"Transfer-Encoding: xchunked", chunks + HIDDEN),
        post(b"Transfer-Encoding : chunked", chunks + HIDDEN), post(b"Transfer-Encoding: chunked, identity", chunks + HIDDEN), post(b"Transfer-Encoding:\x0bchunked", chunks + HIDDEN),
        post(b"Transfer-Encoding: identity\r\nTransfer-Encoding: chunked", chunks + HIDDEN), post(b"X: y\nTransfer-Encoding: chunked", chunks + HIDDEN),
        post(b"Transfer-Encoding: chunked", b"2\n{}\r\n0\r\n\r\n" + HIDDEN), post(b"Transfer-Encoding: chunked", b"-2\r\n{}\r\n0\r\n\r\n" + HIDDEN),
        post(b"Transfer-Encoding: chunked", b"10000000000000002\r\n{}\r\n0\r\n\r\n" + HIDDEN), post(b"Transfer-Encoding: chunked", b"0x2\r\n{}\r\n0\r\n\r\n" + HIDDEN),
        post(b"Transfer-Encoding: chunked", b"2\r\n{}garbage\r\n0\r\n\r\n" + HIDDEN),
    ]
    for message in doubtful:
        said, closed = exchange(server, message)
        found = statuses_of(said)
        check(closed and len(found) <= 1 and all(one >= 400 and one != 500 for one in found), f"doubtful end {message[95:160]!r}: {found}, closed: {closed}")
    print(f"  smuggled: {len(doubtful)}")


def oversize(server):
    before = server.resident_MB()
    join = b"POST /api/v1/join HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    tries = [
        ("address of 1 MB", b"GET /" + b"a" * (1 << 20) + b" HTTP/1.1\r\nHost: x\r\n\r\n", {431, 414, 400}), ("header of 1 MB", b"GET / HTTP/1.1\r\nHost: x\r\nA: " + b"a" * (1 << 20) + END, {431, 400}),
        ("100,000 headers", b"GET / HTTP/1.1\r\nHost: x\r\n" + b"A: b\r\n" * 100_000 + b"\r\n", {431, 400}), ("body said to be 1 TB", join + b"Content-Length: 1099511627776\r\n\r\n{}", {413, 400}),
        ("body of 8 MB", join + b"Content-Length: 8388608\r\n\r\n" + b" " * 8388608, {413}),
        ("chunks of 8 MB", join + b"Transfer-Encoding: chunked\r\n\r\n" + (b"10000\r\n" + b" " * 65536 + b"\r\n") * 128, {413}),
        ("one chunk said to be of 2 GB", join + b"Transfer-Encoding: chunked\r\n\r\n7fffffff\r\n" + b" " * 65536, {413, 400}),
        ("a chunk's extension of 100 MB", join + b"Transfer-Encoding: chunked\r\n\r\n2;" + b"x" * (100 << 20) + b"\r\n{}\r\n0\r\n\r\n", {413, 400, 431}),
    ]
    bomb = silence(48 * 3600)
    tries.append(("a recording of 2 MB that holds 48 hours", b"POST /api/v1/measurement HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/octet-stream\r\n"
                  + f"Content-Length: {len(bomb)}".encode() + END + bomb, {413, 422}))
    for words, message, wanted in tries:
        said, closed = exchange(server, message, "127.0.5.2")
        found = statuses_of(said)
        # A server that has refused need not read on, and its answer may be lost when it closes.
        check(closed and set(found) <= wanted and (found or b"recording" not in words.encode()), f"{words}: {found}, closed: {closed}")
    grown = server.resident_MB() - before
    print(f"  too large: {len(tries)}; the server grew by {grown:.0f} MB")
    check(grown < 64, f"the server grew by {grown:.0f} MB")


def slow(server):
    """Two hundred lines that send a byte now and then: headers, and bodies."""
    lines = []
    for i in range(200):
        line = socket.create_connection((server.host, int(server.port)), 20, (f"127.0.6.{i % 2 + 1}", 0))
        head = b"GET / HTTP/1.1\r\nX-Slow: " if i % 2 else b"POST /api/v1/join HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{"
        line.sendall(head)
        lines.append(line)
    answered = 0
    for _ in range(20):
        for line in lines:
            try:
                line.send(b"x")
            except OSError:
                pass
        answered += 200 in statuses_of(exchange(server, b"GET /api/v1/health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", "127.0.6.9")[0])
    for line in lines:
        line.close()
    print(f"  slow: {len(lines)} lines; {answered} of 20 honest requests answered")
    check(answered == 20, "honest requests are answered beside slow ones")


class Maker:
    """Random requests: real addresses and bodies with something wrong, or nothing."""

    def __init__(self, seed, ids):
        self.random = random.Random(seed)
        spec = json.loads((ROOT / "docs" / "openapi.json").read_text())
        self.addresses = [(method.upper(), path) for path, methods in spec["paths"].items() for method in methods
                          if (method, path) != ("delete", "/api/v1/session")]
        self.ids = ids

    def junk(self, most=40):
        return bytes(self.random.randrange(256) for _ in range(self.random.randrange(most)))

    def value(self, depth=0):
        r = self.random
        if depth < 3 and r.random() < 0.4:
            if r.random() < 0.5:
                return [self.value(depth + 1) for _ in range(r.randrange(4))]
            return {r.choice(WORDS): self.value(depth + 1) for _ in range(r.randrange(5))}
        return r.choice([None, True, 0, -1, 1e308, -1e-308, 2**63, 0.1, "", "x" * r.randrange(300), "\u0000", "é", "=1+1", "../..", r.choice(self.ids), r.choice(WORDS)])

    def target(self, path):
        r = self.random
        while "{" in path:
            start, end = path.index("{"), path.index("}")
            path = path[:start] + r.choice([r.choice(self.ids), "asthma", "0", "%00", "a" * r.randrange(300), "%2e%2e", "'", "nobody"]) + path[end + 1:]
        if r.random() < 0.2:
            path += "?" + r.choice(["form=csv", "station=" + r.choice(self.ids), "a=%ff", "a=b&a=c", "=" * 20, "x" * 500])
        return path.encode()

    def request(self, session):
        r = self.random
        method, path = r.choice(self.addresses)
        body = json.dumps(self.value()).encode() if method in ("POST", "PUT") else b""
        if r.random() < 0.1:
            body = self.junk(400)
        headers = [b"Host: x", b"Content-Type: " + r.choice([b"application/json"] * 6 + [b"text/csv", b"application/octet-stream", self.junk().replace(b"\n", b"")])]
        if r.random() < 0.7:
            headers += session
        if body or r.random() < 0.1:
            headers.append(b"Content-Length: " + str(len(body)).encode())
        if r.random() < 0.03:
            headers.append(self.junk())
        message = bytearray(method.encode() + b" " + self.target(path) + b" HTTP/1.1\r\n" + b"\r\n".join(headers) + END + body)
        for _ in range(r.choice([0] * 12 + [1, 2, 8])):
            message[r.randrange(len(message))] = r.randrange(256)
        if r.random() < 0.05:
            del message[r.randrange(len(message)):]
        return bytes(message)


WORDS = ["actions", "id", "t", "do", "place", "aspect", "front", "u", "v", "finding", "title", "login", "password", "code", "key", "name", "role", "checklist", "items",
         "case_ids", "station_id", "case_id", "mode", "item_id", "answered", "seconds", "chances", "marks", "global_rating", "claim", "monitor", "findings", "schema_version",
         "age_years", "setting", "state", "plan", "schedule", "admission", "patients", "time_limit_s"]


def thousands(server, code, key):
    joined = exchange(server, b"POST /api/v1/join HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: " +
                      str(len(body := json.dumps({"code": code, "key": key}).encode())).encode() + END + body, "127.0.7.1")[0]
    cookie = next(one for one in joined.split(b"\r\n") if one.startswith(b"Set-Cookie: "))[12:].split(b";")[0]
    about = json.loads(joined.split(END, 1)[1])
    learner = [b"Cookie: " + cookie, b"X-Phren-CSRF: " + about["csrf"].encode()]
    instructor = [b"Cookie: " + server.cookie.encode(), b"X-Phren-CSRF: " + server.csrf.encode()]
    maker = Maker(seed, [about["class_id"], about["station_id"], about["person"]["id"], code])
    seen, end, i = {}, time.monotonic() + seconds, 0
    while i < count and time.monotonic() < end:
        i += 1
        messages = [maker.request(maker.random.choice([learner, instructor])) for _ in range(maker.random.choice([1, 1, 3]))]
        said, _ = exchange(server, b"".join(messages), f"127.0.{100 + i % 50}.1", 30.0)
        for status in statuses_of(said):
            seen[status] = seen.get(status, 0) + 1
            check(status != 500, f"a fault, by {messages!r}")
        check(server.process.poll() is None, f"the server ended with {server.process.poll()} on {messages!r}")
        if server.process.poll() is not None:
            return
    print(f"  random: {i} lines, answers {dict(sorted(seen.items()))}")
    check(sum(n for status, n in seen.items() if status < 300) > i // 50, "some of the random requests are whole and answered")


class Honest(threading.Thread):
    """Somebody who only wants to use it."""

    def __init__(self, server):
        super().__init__(daemon=True)
        self.server, self.over, self.asked, self.answered = server, threading.Event(), 0, 0

    def run(self):
        while not self.over.is_set():
            self.asked += 1
            said, _ = exchange(self.server, b"GET /api/v1/sites HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", "127.0.5.9", 30.0)
            self.answered += statuses_of(said) == [200]
            self.over.wait(0.1)


def main():
    print(f"hostile requests: seed {seed}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        server = Serving(sys.argv[1], folder, stderr=subprocess.PIPE)
        lines = []
        reader = threading.Thread(target=lambda: lines.extend(server.process.stderr), daemon=True)
        reader.start()
        code, _ = server.open_station(1, pathlib.Path(folder) / "keys.txt")
        honest = Honest(server)
        honest.start()
        try:
            for part in (malformed, smuggled, oversize, slow):
                part(server)
            thousands(server, code, (pathlib.Path(folder) / "keys.txt").read_text().strip())
        finally:
            honest.over.set()
            honest.join()
            check(honest.asked == honest.answered > 0, f"beside all of it {honest.answered} of {honest.asked} honest requests were answered")
            check(server.stop() == 0, "SIGTERM ends the server with 0")
        reader.join()
        for line in lines:
            check('"fault"' not in line, f"the operator's log tells of a fault: {line}")
        print(f"  beside it {honest.answered} of {honest.asked} honest requests answered; {len(lines)} lines for the operator")
    print("hostile:", "passed" if failures == 0 else f"{failures} failed; seed {seed}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
