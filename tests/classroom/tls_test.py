#!/usr/bin/env python3
"""`phren serve --self-signed`: Python's own TLS trusts exactly that certificate, and the cookie is Secure.

Usage: tls_test.py PHREN
"""
import json
import pathlib
import re
import socket
import ssl
import subprocess
import sys
import tempfile
import urllib.request

failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def main():
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen([sys.argv[1], "serve", "--listen", "127.0.0.1:0", "--self-signed", "--records", folder, "--create"],
                                  stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        said = ""
        while not (found := re.search(r"https://127\.0\.0\.1:(\d+)", said)):
            line = server.stdout.readline()
            if not line:
                sys.exit("the server ended:\n" + said)
            said += line
        port = int(found.group(1))
        try:
            check("not\nprivate or not trusted" in said and re.search(r"([0-9A-F]{2}:){31}", said), "the user is told what the phone will show")
            context = ssl.create_default_context(cafile=str(pathlib.Path(folder) / "certificate.pem"))
            with urllib.request.urlopen(f"https://127.0.0.1:{port}/api/v1/session", context=context) as answer:
                check(json.loads(answer.read())["person"] is None, "one who trusts the certificate gets an answer, and is nobody yet")
            while not (key := re.search(r"/session/local/(\w+)", said)):
                said += server.stdout.readline()
            known = urllib.request.Request(f"https://127.0.0.1:{port}/api/v1/session", headers={"Cookie": f"phren_local={key.group(1)}"})
            with urllib.request.urlopen(known, context=context) as answer:
                check(json.loads(answer.read())["is_local"], "one who has the printed key is the instructor of this machine")
            try:
                urllib.request.urlopen(f"https://127.0.0.1:{port}/api/v1/session")
                check(False, "one who does not trust it is not let in")
            except urllib.error.URLError:
                check(True, "one who does not trust it is not let in")
            request = urllib.request.Request(f"https://127.0.0.1:{port}/api/v1/session", data=b'{"login":"a","password":"wrong password"}',
                                             headers={"Content-Type": "application/json"})
            try:
                urllib.request.urlopen(request, context=context)
            except urllib.error.HTTPError as error:
                check(error.code == 401, "a wrong login is 401 over TLS too")
            for old in (ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1):
                weak = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
                weak.check_hostname, weak.verify_mode = False, ssl.CERT_NONE
                weak.set_ciphers("ALL:@SECLEVEL=0")
                weak.minimum_version = weak.maximum_version = old
                try:
                    weak.wrap_socket(socket.create_connection(("127.0.0.1", port), 10))
                    check(False, f"{old.name} is refused")
                except (ssl.SSLError, OSError):
                    check(True, f"{old.name} is refused")
            plain = socket.create_connection(("127.0.0.1", port), 10)
            plain.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            check(not plain.recv(100).startswith(b"HTTP"), "plain HTTP gets nothing")
            mode = (pathlib.Path(folder) / "private_key.pem").stat().st_mode & 0o777
            check(mode == 0o600, "the key is for its owner alone")
        finally:
            server.terminate()
            check(server.wait(timeout=10) == 0, "SIGTERM ends the server with 0")
    # Open to the network without TLS: whoever starts it is told what that means.
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen([sys.argv[1], "serve", "--listen", "0.0.0.0:0", "--records", folder, "--create"],
                                  stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        while "Phren is at" not in (line := server.stdout.readline()):
            if not line:
                sys.exit("the server ended")
        server.terminate()
        check("can read passwords and keys" in server.communicate(timeout=10)[1], "plain HTTP for others is warned of")
    print("tls:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
