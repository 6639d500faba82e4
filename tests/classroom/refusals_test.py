#!/usr/bin/env python3
"""Addresses that climb, and whatever else is refused without the store, over real HTTP: each is
refused, gives nothing away and stands in the audit log, of one address at most 120 a minute.

Usage: refusals_test.py PHREN
"""
import http.cookies
import json
import pathlib
import socket
import sqlite3
import sys
import tempfile
import time

from serving import Serving

failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


class Wire:
    """Requests byte for byte, from a loopback address of one's own."""

    def __init__(self, server, remote):
        self.server, self.remote, self.cookie = server, remote, ""

    def ask(self, method, target, headers="", body=b""):
        """Returns status and everything that came back."""
        with socket.create_connection((self.server.host, int(self.server.port)), 20, (self.remote, 0)) as line:
            cookie = f"Cookie: phren_session={self.cookie}\r\n" if self.cookie else ""
            length = f"Content-Length: {len(body)}\r\n" if body else ""
            line.sendall(f"{method} {target} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{cookie}{length}{headers}\r\n".encode("latin-1") + body)
            said = b""
            while part := line.recv(1 << 16):
                said += part
        return (int(said.split()[1]) if said.startswith(b"HTTP/1.1 ") else 0), said


class Audit:
    def __init__(self, folder):
        (self.file,) = pathlib.Path(folder).glob("*.db")

    def rows(self, remote):
        with sqlite3.connect(self.file) as db:
            return db.execute("SELECT actor_id, class_id, subject, detail FROM audit WHERE event = 'refused' AND address = ? ORDER BY at_ms",
                              (remote,)).fetchall()


CLIMBING = [  # as RFC 3986 2.1 lets '.' and '/' be written, and what is read as them elsewhere
    "/../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/%2E%2e/etc/passwd", "/.%2e/%2e./etc/passwd", "/..%2f..%2fetc%2fpasswd",
    "/assets/../../../etc/passwd", "/assets/%2e%2e%2f%2e%2e%2fetc/passwd", "/api/v1/cases/../../../etc/passwd",
    "/api/v1/cases/%2e%2e%2f%2e%2e%2fdata%2fsites.toml", "/api/v1/cases/..%5c..%5cetc%5cpasswd", "/..\\..\\etc\\passwd",
    "/%252e%252e/%252e%252e/etc/passwd", "//etc/passwd", "/etc/passwd%00.html", "../../etc/passwd", "/..;/etc/passwd",
    "/%c0%ae%c0%ae/etc/passwd",  # '.' in two bytes, which RFC 3629 3 forbids
]


def climbing(server, audit):
    for i, target in enumerate(CLIMBING):
        who = Wire(server, f"127.0.1.{i + 1}")
        status, said = who.ask("GET", target)
        rows = audit.rows(who.remote)
        check(400 <= status < 500 and b"root:" not in said and b"landmark" not in said and len(rows) == 1 and rows[0][3].startswith(f"{status} "),
              f"{target}: {status}, {len(rows)} entry: {rows[0][2] if rows else ''}")


def others(server, audit):
    asks = [("DELETE", "/api/v1/sites", "", b"", 405), ("GET", "/api/v1/nothing", "", b"", 404), ("GET", "/no_such_page", "", b"", 404),
            ("POST", "/api/v1/impression", "Content-Type: text/plain\r\n", b"x", 415),
            ("POST", "/api/v1/impression", "Content-Type: application/json\r\n", b" " * 300_000, 413),
            ("POST", "/api/v1/impression", "Content-Type: application/json\r\n", b"[" * 1000, 400),
            ("POST", "/api/v1/impression", "Content-Type: application/json\r\nOrigin: http://elsewhere.example\r\n", b"{}", 403),
            ("GET", "/", "X: " + "x" * 10_000 + "\r\n", b"", 431), ("GET", "/?a=%ff", "", b"", 400), ("G(T", "/", "", b"", 400)]
    for i, (method, target, headers, body, wanted) in enumerate(asks):
        who = Wire(server, f"127.0.2.{i + 1}")
        status, _ = who.ask(method, target, headers, body)
        rows = audit.rows(who.remote)
        check(status == wanted and len(rows) == 1 and rows[0][3].startswith(f"{status} "), f"{method} {target}: {status}, {len(rows)} entry: {rows[0][2] if rows else ''}")


def learner(server, audit, code, key):
    maren = Wire(server, "127.0.3.1")
    _, said = maren.ask("POST", "/api/v1/join", "Content-Type: application/json\r\n", json.dumps({"code": code, "key": key}).encode())
    head, body = said.split(b"\r\n\r\n", 1)
    maren.cookie = http.cookies.SimpleCookie(next(one for one in head.decode().split("\r\n") if one.startswith("Set-Cookie: "))[12:])["phren_session"].value
    person, room = json.loads(body)["person"]["id"], json.loads(body)["class_id"]
    for target, wanted in [("/api/v1/cases/asthma", 403), ("/api/v1/cases/asthma/config", 403), ("/api/v1/%2e%2e/%2e%2e/etc/passwd", 400)]:
        before = len(audit.rows(maren.remote))
        status, _ = maren.ask("GET", target)
        rows = audit.rows(maren.remote)
        check(status == wanted and len(rows) == before + 1 and rows[-1][:3] == (person, room, f"GET {target}"),
              f"a learner at a station asks for {target}: {status}, noted with her id and her class")


def flood(server, audit):
    who = Wire(server, "127.0.4.1")
    begun = time.time()
    statuses = {who.ask("GET", "/%2e%2e/etc/passwd")[0] for _ in range(300)}
    rows = audit.rows(who.remote)
    minutes = int(time.time() // 60) - int(begun // 60) + 1
    check(statuses == {400} and 120 <= len(rows) <= 120 * minutes, f"300 climbing addresses in {minutes} minute(s) of the clock: all 400, {len(rows)} entries")
    check(sum("not listed this minute" in row[3] for row in rows) == len(rows) // 120 > 0, "the last of a minute says that more are not listed")


def main():
    with tempfile.TemporaryDirectory() as folder:
        server = Serving(sys.argv[1], folder)
        try:
            code, _ = server.open_station(1, pathlib.Path(folder) / "keys.txt")
            audit = Audit(folder)
            climbing(server, audit)
            others(server, audit)
            learner(server, audit, code, (pathlib.Path(folder) / "keys.txt").read_text().strip())
            flood(server, audit)
            check(Wire(server, "127.0.4.1").ask("GET", "/api/v1/health")[0] == 200, "the server answers on")
        finally:
            check(server.stop() == 0, "SIGTERM ends the server with 0")
    print("refusals:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
