#!/usr/bin/env python3
"""Behind nginx with TLS: whoever comes from outside is nobody without an account, and with one everything works: login, the address in the QR code,
joining, sending a recording, the client's own address in the audit log and in the limits, a Secure cookie.

Usage: proxy_test.py PHREN
"""
import http.client
import json
import pathlib
import re
import shutil
import socket
import sqlite3
import ssl
import subprocess
import sys
import tempfile
import time

from serving import Serving

failures = 0
PASSWORD = "mussel raft at dawn"


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


class Nginx:
    def __init__(self, folder, upstream, headers):
        self.port, self.folder = free_port(), folder
        self.certificate = folder / "proxy.pem"
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2", "-subj", "/CN=localhost",
                        "-addext", "subjectAltName=DNS:localhost", "-keyout", folder / "proxy.key", "-out", self.certificate], check=True, capture_output=True)
        lines = "".join(f"proxy_set_header {name} {value};" for name, value in headers)
        (folder / "nginx.conf").write_text(f"""
            daemon off; pid {folder}/nginx.pid; error_log {folder}/error.log;
            events {{ }}
            http {{ access_log off; client_max_body_size 64m; client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/f;
              uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
              server {{ listen 127.0.0.1:{self.port} ssl; server_name localhost; ssl_certificate {self.certificate}; ssl_certificate_key {folder}/proxy.key;
                location / {{ proxy_pass {upstream}; {lines} }} }} }}""")
        self.process = subprocess.Popen([shutil.which("nginx") or "/usr/sbin/nginx", "-c", folder / "nginx.conf", "-p", folder, "-e", folder / "error.log"])
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                time.sleep(0.05)
        sys.exit("nginx does not listen: " + (folder / "error.log").read_text())

    def stop(self):
        self.process.terminate()
        self.process.wait(timeout=20)


class Visitor:
    """Somebody outside, at a loopback address of his own, as a browser behaves."""

    def __init__(self, nginx, remote):
        self.nginx, self.remote, self.cookies, self.csrf = nginx, remote, {}, ""
        self.context = ssl.create_default_context(cafile=nginx.certificate)

    def ask(self, method, path, body=None, kind="application/json", headers=()):
        line = http.client.HTTPSConnection("localhost", self.nginx.port, timeout=60, context=self.context, source_address=(self.remote, 0))
        data = body if isinstance(body, bytes) or body is None else json.dumps(body).encode()
        sent = {"Origin": f"https://localhost:{self.nginx.port}", "X-Phren-CSRF": self.csrf, **dict(headers)}
        if data is not None:
            sent["Content-Type"] = kind
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        line.request(method, f"/api/v1/{path}", body=data, headers=sent)
        answer = line.getresponse()
        text = answer.read()
        self.said = answer.headers
        for set_cookie in answer.headers.get_all("Set-Cookie") or []:
            name, value = set_cookie.split(";")[0].split("=", 1)
            self.cookies[name] = value
        line.close()
        try:
            value = json.loads(text)
        except ValueError:
            value = text
        if isinstance(value, dict) and value.get("csrf"):
            self.csrf = value["csrf"]
        return answer.status, value


def nobody_without_account(program, folder):
    """nginx as its documentation sets it up at first: proxy_pass to the loopback, nothing else said to either side."""
    store = folder / "plain"
    store.mkdir()
    server = Serving(program, store)
    nginx = Nginx(store, server.address, [])
    try:
        outside = Visitor(nginx, "127.0.5.1")
        status, session = outside.ask("GET", "session")
        check(status == 200 and session["person"] is None and session["csrf"] == "", "behind a proxy that says nothing, who comes from outside is nobody")
        for path in ("classes", "people", "me", "drill/next"):
            check(outside.ask("GET", path)[0] in (401, 404, 405), f"and gets nothing from {path}")
        check(outside.ask("GET", "session/local/" + "0" * 64)[0] == 403, "and cannot guess the key of this machine's instructor")
        outside.cookies = {"phren_local": "0" * 64}
        check(outside.ask("GET", "classes")[0] == 401, "nor show one of his own")
    finally:
        nginx.stop()
        check(server.stop() == 0, "SIGTERM ends the server with 0")


def misspelt(program, folder):
    tried = subprocess.run([program, "serve", "--listen", "127.0.0.1:0", "--records", folder / "misspelt"], capture_output=True, text=True, timeout=60)
    check(tried.returncode == 1 and "--create" in tried.stderr and not (folder / "misspelt").exists(), "a misspelt --records makes no store and opens no door")
    for connection in ("postgres://phren:topsecret@db/phren", "mysql:password=topsecret"):
        tried = subprocess.run([program, "serve", "--listen", "127.0.0.1:0", "--records", connection, "--create"], capture_output=True, text=True, timeout=60, cwd=folder)
        check(tried.returncode == 1 and "topsecret" not in tried.stderr + tried.stdout, f"{connection.split(':')[0]}: is refused, and its password not repeated")
        check(not any("topsecret" in str(one) for one in folder.rglob("*")), "nor is it in the name of a folder")


def add_instructor(program, store):
    made = subprocess.run([program, "records", "add", "--login", "ingrid", "--records", store, "--create"], input=PASSWORD + "\n", text=True, capture_output=True)
    check(made.returncode == 0, "an account is made from the command line " + made.stderr)


def all_works(program, folder):
    store = folder / "school"
    store.mkdir()
    add_instructor(program, store)
    public = free_port()  # the server must know the proxy's port before nginx has one
    server = Serving(program, store, more=["--public-url", f"https://localhost:{public}", "--trusted-proxy", "127.0.0.1"])
    real = globals()["free_port"]
    globals()["free_port"] = lambda: public
    nginx = Nginx(store, server.address, [("X-Forwarded-For", "$proxy_add_x_forwarded_for"), ("X-Forwarded-Proto", "$scheme")])
    globals()["free_port"] = real
    try:
        class_through(nginx, store)
    finally:
        nginx.stop()
        check(server.stop() == 0, "SIGTERM ends the server with 0")


def class_through(nginx, store):
    ingrid = Visitor(nginx, "127.0.6.1")
    status, session = ingrid.ask("POST", "session", {"login": "ingrid", "password": PASSWORD})
    check(status == 200 and session["person"]["role"] == "instructor", f"the pages' own login works: {status}")
    cookie = ingrid.said["Set-Cookie"]
    check(cookie.startswith("__Host-phren_session=") and "; Secure" in cookie and "Path=/;" in cookie, "its cookie is Secure and bound to this host")
    check(ingrid.said["Strict-Transport-Security"] == "max-age=31536000", "browsers are told to stay with TLS")
    status, room = ingrid.ask("POST", "classes", {"title": "Skerrow crew"})
    check(status == 201, "a class is made")
    ingrid.ask("PUT", f"classes/{room['id']}/roster", b"login,name\nmaren,Maren\ntorvald,Torvald\n", "text/csv")
    _, listed = ingrid.ask("GET", "checklists")
    checklist = next(one for one in listed["checklists"] if one["id"] == "asthma_station")
    _, station = ingrid.ask("POST", f"classes/{room['id']}/stations", {"title": "Raft", "case_ids": ["asthma"], "checklist": checklist})
    ingrid.ask("POST", f"stations/{station['id']}/state", {"state": "open"})
    _, joining = ingrid.ask("GET", f"stations/{station['id']}/join")
    check(all(one.startswith(f"https://localhost:{nginx.port}/") for one in joining["addresses"]) and joining["addresses"], f"the QR code shows {joining['addresses']}")
    keys = [one["key"] for one in ingrid.ask("GET", f"classes/{room['id']}")[1]["members"]]
    # One who guesses locks out himself, not the class that comes through the same proxy; nor does he get another address by claiming one.
    thief = Visitor(nginx, "127.0.6.66")
    for i in range(61):
        status, _ = thief.ask("POST", "join", {"code": "AAAAAA", "key": "BBBBBBBB"}, headers=[("X-Forwarded-For", f"10.1.1.{i}"), ("Forwarded", f"for=10.2.2.{i}")])
    check(status == 429, f"61 wrong codes of one address: {status}")
    maren = Visitor(nginx, "127.0.6.2")
    status, joined = maren.ask("POST", "join", {"code": station["join_code"], "key": keys[0]})
    check(status == 200, f"a learner joins meanwhile: {status}")
    status, met = maren.ask("POST", "encounters", {"station_id": station["id"]})
    check(status == 201, "and begins")
    status, _ = maren.ask("POST", f"encounters/{met['id']}/actions", {"actions": [{"id": "a1", "t": 0.5, "do": "expose", "part": "all"}]})
    check(status == 200, "and acts")
    status, measured = maren.ask("POST", "measurement", recording(), "application/octet-stream")
    check(status == 200 and measured["duration_s"] > 5, f"a recording is sent and measured: {status}")
    status, _ = maren.ask("POST", f"encounters/{met['id']}/end", {"id": "e", "t": 1.5}, headers=[("Origin", "https://elsewhere.example")])
    check(status == 403, "a page of another site is still refused")
    with sqlite3.connect(store / "records.db") as db:
        rows = db.execute("SELECT event, address FROM audit WHERE address <> ''").fetchall()
    by = {event: {address for name, address in rows if name == event} for event, _ in rows}
    check(by["login"] == {"127.0.6.1"} and by["joined"] == {"127.0.6.2"} and by["refused"] == {"127.0.6.66", "127.0.6.2"}, f"the audit log has each client's own address: {by}")


def recording():
    import io
    import math
    import wave
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(4000)
        file.writeframes(b"".join(int(3000 * math.sin(i * i * 1e-5)).to_bytes(2, "little", signed=True) for i in range(24000)))
    return out.getvalue()


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        folder.chmod(0o755)  # nginx's workers are another user
        program = str(pathlib.Path(sys.argv[1]).resolve())
        nobody_without_account(program, folder)
        misspelt(program, folder)
        all_works(program, folder)
    print("proxy:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
