#!/usr/bin/env python3
"""docs/openapi.json against a running server: every address answers as the file says.

Usage: contract_test.py PHREN_PROGRAM
The schemas of OpenAPI 3.1 are JSON Schema 2020-12; python3-jsonschema is the independent judge.
"""
import json
import pathlib
import re
import subprocess
import sys
import urllib.error
import urllib.request

import jsonschema

ROOT = pathlib.Path(__file__).parents[2]
spec = json.loads((ROOT / "docs" / "openapi.json").read_text())
failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def ask(url, body=None, content_type=None, method=None):
    request = urllib.request.Request(url, data=body, method=method)
    if content_type:
        request.add_header("Content-Type", content_type)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.headers.get("Content-Type", ""), answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.headers.get("Content-Type", ""), error.read()


def response_of(operation, status):
    response = operation["responses"].get(str(status))
    if response and "$ref" in response:
        response = spec["components"]["responses"][response["$ref"].split("/")[-1]]
    return response


def conforms(operation, status, content_type, body):
    response = response_of(operation, status)
    if response is None:
        return f"status {status} is not described"
    kind = content_type.split(";")[0]
    if kind not in response["content"]:
        return f"{kind} is not described for {status}"
    if not kind.endswith("json"):
        return None
    schema = dict(response["content"][kind]["schema"], components=spec["components"])
    errors = list(jsonschema.Draft202012Validator(schema).iter_errors(json.loads(body)))
    return f"{errors[0].json_path}: {errors[0].message}" if errors else None


def wav(seconds):
    import io
    import math
    import wave
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(4000)
        file.writeframes(b"".join(
            int(3000 * math.sin(i * i * 1e-4)).to_bytes(2, "little", signed=True) for i in range(int(4000 * seconds))))
    return out.getvalue()


BODIES = {
    "impression": [(200, b'{"schema_version":1,"age_years":34,"setting":"ems_adult","findings":[{"id":"wheeze","presence":"present"}]}'),
                   (422, b'{"schema_version":1,"age_years":-1}'), (400, b"not JSON")],
    "measurement": [(200, wav(3)), (400, b"not a sound file at all, only words")],
}


def main():
    server = subprocess.Popen([sys.argv[1], "serve", "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE, text=True)
    try:
        address = re.search(r"http://\S+:\d+", server.stdout.readline()).group(0)
        for path, operations in spec["paths"].items():
            for method, operation in operations.items():
                name = operation["operationId"]
                url = address + path.replace("{id}", "wheeze" if "specimens" in path else "asthma")
                if method == "get":
                    tries = [(200, url, None)]
                    if "{id}" in path:
                        tries.append((404, address + path.replace("{id}", "nobody"), None))
                else:
                    tries = [(wanted, url, body) for wanted, body in BODIES[name]]
                for wanted, where, body in tries:
                    kind = next(iter(operation["requestBody"]["content"])) if body is not None else None
                    status, content_type, answer = ask(where, body, kind, method.upper())
                    fault = conforms(operation, status, content_type, answer)
                    check(status == wanted and fault is None, f"{name}: {status}" + (f" ({fault})" if fault else ""))
                if method == "post":
                    status, content_type, answer = ask(url, b"x", "text/plain", "POST")
                    check(status == 415 and conforms(operation, status, content_type, answer) is None, f"{name}: wrong content type is 415")
        status, _, _ = ask(address + "/api/v1/sites", b"{}", "application/json", "POST")
        check(status == 405, "writing to a list is 405")
    finally:
        server.terminate()
        check(server.wait(timeout=10) == 0, "SIGTERM ends the server with 0")
    print("contract:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
