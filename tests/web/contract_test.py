#!/usr/bin/env python3
"""docs/openapi.json against a running server: every address answers as the file says.

Usage: contract_test.py PHREN_PROGRAM
The schemas of OpenAPI 3.1 are JSON Schema 2020-12; python3-jsonschema is the independent judge.
"""
import http.client
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import time
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


def ask(url, body=None, content_type=None, method=None, headers=()):
    request = urllib.request.Request(url, data=body, method=method)
    for name, value in headers:
        request.add_header(name, value)
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
    if not kind.endswith("json") or kind.endswith("ndjson"):
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


def in_reach(path):
    """Addresses that need nothing but themselves; those of a class are walked through below."""
    return path.split("/")[3] in ("health", "sites", "cases", "levels", "conditions", "treatments", "impression", "measurement", "specimens", "findings")


def check_plain(address):
    for path, operations in spec["paths"].items():
        for method, operation in operations.items():
            if not in_reach(path):
                continue
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


class Visitor:
    """A browser that follows the file: every answer is held against the operation's description."""

    seen = set()

    def __init__(self, address):
        self.address, self.cookie, self.csrf = address, "", ""

    def __call__(self, wanted, operation_id, *, body=None, query="", **values):
        path, method, operation = next((p, m, o) for p, ms in spec["paths"].items() for m, o in ms.items() if o["operationId"] == operation_id)
        for name, value in values.items():
            path = path.replace("{" + name + "}", value)
        kind = next(iter(operation["requestBody"]["content"])) if "requestBody" in operation else None
        if body is not None and not isinstance(body, bytes):
            body = json.dumps(body).encode()
        headers = [("X-Phren-CSRF", self.csrf)] + ([("Cookie", self.cookie)] if self.cookie else [])
        request = urllib.request.Request(self.address + path + query, data=body, method=method.upper())
        for name, value in headers + ([("Content-Type", kind)] if kind and body is not None else []):
            request.add_header(name, value)
        try:
            answer = urllib.request.urlopen(request, timeout=30)
        except urllib.error.HTTPError as error:
            answer = error
        status, content_type, data = answer.status, answer.headers.get("Content-Type", ""), answer.read()
        if answer.headers.get("Set-Cookie"):
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
        fault = conforms(operation, status, content_type, data)
        check(status == wanted and fault is None, f"{operation_id}: {status}" + (f", wanted {wanted}: {data[:300]}" if status != wanted else "") + (f" ({fault})" if fault else ""))
        Visitor.seen.add(operation_id)
        return json.loads(data) if content_type.split(";")[0] in ("application/json", "application/problem+json") and operation_id != "exportClass" else data


def open_local(address, key):
    """The address that the server prints for the instructor at its machine; gives the cookie that comes of it."""
    line = http.client.HTTPConnection(address.removeprefix("http://"), timeout=30)
    line.request("GET", "/api/v1/session/local/" + "0" * 64)
    answer = line.getresponse()
    check(answer.status == 403 and answer.read(), "openLocal: a wrong key is 403")
    line.request("GET", f"/api/v1/session/local/{key}")
    answer = line.getresponse()
    cookie = answer.headers["Set-Cookie"]
    check(answer.status == 303 and answer.headers["Location"] == "/" and "HttpOnly; SameSite=Strict" in cookie, "openLocal: leads to the front page with a cookie")
    Visitor.seen.add("openLocal")
    return cookie.split(";")[0]


def named_sounds(learner):
    """Answers until one is wrong; what the wrong answer named can be heard then, and not before."""
    for _ in range(12):
        item = learner(200, "drillNext", body={"mode": "name"})
        at = {"id": item["item_id"], "answer": item["choices"][-1]["id"]}
        learner(409, "drillNamedSound", number="0", **at)
        result = learner(200, "drillAnswer", body={"item_id": at["id"], "answered": at["answer"], "seconds": 3.5})
        if not result["is_right"] and result["named"]["sounds"]:
            learner(200, "drillNamedSound", number="0", **at)
            learner(404, "drillNamedSound", number="7", **at)
            return
    check(False, "a wrong answer names what can be heard")


def check_rounds(us, stranger):
    opened = us(201, "openRound", body={"case_id": "asthma__pneumothorax-right"})
    us(404, "openRound", body={"case_id": "nobody"})
    us(404, "openRound", body={"case_id": "asthma__nothing"})
    stranger(401, "openRound", body={"case_id": "asthma"})
    where = {"id": opened["round"]["id"]}
    us(200, "rounds")
    us(200, "round", **where)
    us(404, "round", id="nobody")
    us(201, "roundDesk", body={}, **where)
    stranger(401, "roundProjector", body={}, **where)
    us(201, "roundProjector", body={}, **where)
    us(200, "roundAddresses", **where)
    us(200, "roundQr", **where)
    us(422, "roundQr", query="?address=x", **where)
    stranger(404, "joinRound", body={"code": "XXXXX"})
    person = stranger(201, "joinRound", body={"code": opened["round"]["code"].lower(), "name": "Maren"})["person"]
    stranger(422, "joinRound", body={"code": opened["round"]["code"], "name": "x" * 100})
    us(200, "roundLog", **where)
    us(200, "roundLog", query="?take=0&person=" + person["id"], **where)
    us(422, "roundLog", query="?take=9", **where)
OWN = b'''title = "A man of 70"
story = "Called to a man of 70."
[person]
age_years = 70
sex = "male"
height_cm = 188
weight_kg = 112
[[condition]]
id = "tension_pneumothorax"
severity = 0.7
side = "right"
'''


def build_and_show(us):
    """What is built is read, previewed, kept in the own folder, and met by its code; what the projector asks for."""
    draft = us(200, "patientRead", body=OWN)
    check(draft["conditions"][0]["side"] == "right" and draft["conditions"][0]["severity_later"] is None, "a case text comes back field by field")
    fault = us(422, "patientRead", body=OWN.replace(b"0.7", b"7"))["detail"]
    check(fault == "patient.toml:10: [[condition]] severity is 7; it must be a number between 0 and 1", "its fault says where: " + fault)
    us(200, "patientConfig", body=OWN)
    us(200, "patientExpected", body=OWN)
    own = {"id": "own-k7qm2xpa"}
    us(404, "ownPatient", **own)
    us(200, "keepOwnPatient", body=OWN, **own)
    us(422, "keepOwnPatient", body=b"title = 3", **own)
    us(409, "keepOwnPatient", body=OWN, id="asthma")
    check([one["id"] for one in us(200, "ownPatients")["patients"]] == [own["id"]], "it is in the list of own patients")
    us(200, "ownPatient", **own)
    us(200, "ownPatient", id="asthma")
    check(us(200, "case", **own)["person"]["age_years"] == 70, "and met as a case")
    us(200, "removeOwnPatient", **own)
    us(404, "removeOwnPatient", **own)
    us(404, "case", **own)
    us(200, "show")
    us(200, "showConfig", id="wheeze", build="thin")
    us(404, "showConfig", id="wheeze", build="fat")


def check_class(address, key):
    us, learner, stranger = Visitor(address), Visitor(address), Visitor(address)
    check(us(200, "session")["person"] is None, "who has not opened the printed address is nobody")
    us.cookie = open_local(address, key)
    session = us(200, "session")
    us.csrf = session["csrf"]
    check(session["is_local"] and session["person"]["role"] == "instructor", "alone on this machine one is the instructor")
    build_and_show(us)
    us(401, "logIn", body={"login": "nobody", "password": "wrong password"})
    us(409, "changePassword", body={"old": "wrong password", "new": "another password"})
    made = us(201, "createClass", body={"title": "Skerrow crew"})
    us(422, "createClass", body={"title": ""})
    where = {"id": made["id"]}
    us(200, "classes")
    us(400, "mergeRoster", body=b"login,name\nmaren,\n", **where)
    us(200, "mergeRoster", body=b"login,name,extra_time_percent\nmaren,Maren,25\ntorvald,Torvald,\n", **where)
    us(200, "roster", **where)
    shown = us(200, "class", **where)
    us(404, "class", id="nobody")
    us(200, "classCases", **where)
    checklist = next(one for one in us(200, "checklists")["checklists"] if one["id"] == "asthma_station")
    checklist["items"].append({"id": "speaks", "text": "Explains what is done", "rule": "examiner", "points": 2})
    plan = {"title": "Raft", "case_ids": ["asthma"], "checklist": checklist, "time_limit_s": 480, "patients": "identical", "admission": "roster", "instructions": "You have eight minutes."}
    station = us(201, "createStation", body=plan, **where)
    us(422, "createStation", body=dict(plan, case_ids=["nobody"]), **where)
    at = {"id": station["id"]}
    us(200, "station", **at)
    us(200, "changeStation", body=dict(plan, title="Mussel raft"), **at)
    us(200, "setStationState", body={"state": "open"}, **at)
    us(409, "setStationState", body={"state": "released"}, **at)
    us(409, "changeStation", body=dict(plan, case_ids=["croup"]), **at)
    us(200, "joinAddresses", **at)
    us(200, "joinQr", **at)
    us(422, "joinQr", query="?address=x", **at)
    check_rounds(us, stranger)
    us(200, "case", id="asthma")
    stranger(404, "join", body={"code": "XXXXXX", "key": "X"})
    key = next(one["key"] for one in shown["members"] if one["login"] == "maren")
    learner.csrf = learner(200, "join", body={"code": station["join_code"].lower(), "key": key[:4] + "-" + key[4:]})["csrf"]
    learner(403, "case", id="asthma")
    learner(403, "caseConfig", id="asthma")
    learner(403, "createClass", body={"title": "Mine"})
    learner(403, "ownPatients")
    learner(403, "keepOwnPatient", body=OWN, id="own-k7qm2xpa")
    learner(403, "station", **at)
    learner(403, "roster", **where)
    encounter = learner(201, "beginEncounter", body={"station_id": station["id"]})
    learner(200, "beginEncounter", body={"station_id": station["id"]})
    learner(422, "beginEncounter", body={"station_id": station["id"], "seed": "1"})
    met = {"id": encounter["id"]}
    learner(200, "encounter", **met)
    learner(404, "encounter", id="nobody")
    learner(200, "encounterConfig", **met)
    actions = [{"id": "a1", "t": 0.5, "do": "expose"}, {"id": "a2", "t": 1, "do": "place", "aspect": "back", "u": -0.4, "v": 0.7},
               {"id": "a3", "t": 5.5, "do": "lift"}, {"id": "a4", "t": 6, "do": "report", "finding": "wheeze"}]
    learner(200, "act", body={"actions": actions}, **met)
    repeated = learner(200, "act", body={"actions": actions}, **met)
    check(repeated == {"stored": 0, "repeated": 4, "total": 4}, "sending again changes nothing")
    learner(503, "act", body={"actions": [{"id": "a9", "t": 3000, "do": "lift"}]}, **met)
    learner(422, "act", body={"actions": [{"id": "a9", "t": 3, "do": "fly"}]}, **met)
    learner(409, "mark", **met)
    learner(200, "endEncounter", body={"id": "end", "t": 8, "claim": None}, **met)
    learner(200, "encounterLog", **met)
    learner(403, "mark", **met)
    learner(403, "putExaminerMarks", body={"global_rating": 5}, **met)
    us(200, "board", **at)
    until = time.time() + 30
    while time.time() < until and not marked(us, met):
        time.sleep(0.5)
    us(200, "mark", **met)
    us(200, "debrief", **met)
    us(200, "examinerSheet", **met)
    us(200, "putExaminerMarks", body={"marks": [{"item_id": "speaks", "points": 1.5, "note": "Clear."}], "global_rating": 4, "note": "Calm."}, **met)
    us(422, "putExaminerMarks", body={"marks": [{"item_id": "pairs", "points": 0}]}, **met)
    us(200, "standard", **at)
    us(200, "putAngoff", body={"chances": {"pairs": 0.5}}, **at)
    us(200, "setStationState", body={"state": "closed"}, **at)
    us(200, "setStationState", body={"state": "released"}, **at)
    us(409, "putExaminerMarks", body={"global_rating": 2}, **met)
    learner(200, "mark", **met)
    learner(200, "debrief", **met)
    learner(200, "me")
    us(200, "classReport", **where)
    us(200, "classReport", query="?station=" + station["id"], **where)
    for form in ("csv", "xapi", "fhir", "nemsis", "pdf", "answers"):
        us(200, "exportClass", query="?form=" + form, **where)
    us(422, "exportClass", query="?form=docx", **where)
    item = learner(200, "drillNext", body={"mode": "name"})
    learner(422, "drillNext", body={"mode": "guess"})
    learner(200, "drillSound", id=item["item_id"], number="0")
    learner(404, "drillSound", id=item["item_id"], number="7")
    learner(200, "drillAnswer", body={"item_id": item["item_id"], "answered": item["choices"][0]["id"], "seconds": 3.5})
    learner(422, "drillAnswer", body={"item_id": item["item_id"], "answered": "nothing", "seconds": 3.5})
    named_sounds(learner)
    for mode in ("phase", "side", "lobe", "same", "weigh", "threat"):
        item = learner(200, "drillNext", body={"mode": mode, "schedule": "mixed"})
        learner(200, "drillAnswer", body={"item_id": item["item_id"], "answered": item["choices"][0]["id"], "seconds": 3.5})
    test = learner(201, "startAbilityTest", body={})
    learner(200, "startAbilityTest", body={})
    of = {"id": test["id"]}
    learner(200, "abilitySound", item=test["item"]["item_id"], number="0", **of)
    learner(404, "abilitySound", item=test["item"]["item_id"], number="7", **of)
    given = {"item_id": test["item"]["item_id"], "answered": test["item"]["choices"][0]["id"]}
    learner(422, "answerAbilityItem", body=dict(given, answered="nothing"), **of)
    learner(200, "answerAbilityItem", body=given, **of)
    us(404, "abilityTest", **of)
    learner(200, "abilityTest", **of)
    learner(200, "stopAbilityTest", body={}, **of)
    us(200, "classDrill", **where)
    learner(200, "drillRules")
    us(422, "putClassDrill", body={"modes": ["name"], "skills": ["wheeze"]}, **where)
    learner(403, "putClassDrill", body={"modes": ["name"], "skills": ["wheeze", "rhonchus"]}, **where)
    us(200, "putClassDrill", body={"modes": ["name"], "skills": ["wheeze", "rhonchus"], "new_per_day": 1, "sound_only": True}, **where)
    learner(409, "drillNext", body={"mode": "same"})
    us(200, "classSkills", **where)
    members = {one["login"]: one["person_id"] for one in shown["members"]}
    us(200, "member", person=members["maren"], **where)
    us(200, "classAudit", **where)
    us(200, "exportPerson", id=members["maren"])
    learner(404, "exportPerson", id=members["torvald"])
    us(200, "removeMember", person=members["torvald"], **where)
    us(200, "forgetPerson", id=members["maren"])
    learner(401, "me")
    # The first password ends the time without logins, so it comes last.
    us(200, "addStaff", body={"login": "eira", "role": "instructor", "name": "Eira", "password": "a long password"}, **where)
    eira = Visitor(address)
    us(401, "classes")
    eira.csrf = eira(200, "logIn", body={"login": "eira", "password": "a long password"})["csrf"]
    eira(422, "changePassword", body={"old": "wrong password", "new": "another password"})
    eira(200, "changePassword", body={"old": "a long password", "new": "another password"})
    local = next(one["person_id"] for one in eira(200, "class", **where)["staff"] if one["login"] == "local")
    eira(200, "removeStaff", person=local, **where)
    eira(200, "logOut")
    missed = {o["operationId"] for p, ms in spec["paths"].items() if not in_reach(p) for o in ms.values()} - Visitor.seen
    check(not missed, f"every operation of a class was asked for {sorted(missed) or ''}")


def marked(visitor, met):
    path = "/api/v1/encounters/" + met["id"] + "/mark"
    return ask(visitor.address + path, headers=[("Cookie", visitor.cookie)])[0] == 200


def main():
    records = tempfile.TemporaryDirectory()
    server = subprocess.Popen([sys.argv[1], "serve", "--listen", "127.0.0.1:0", "--records", records.name, "--create"], stdout=subprocess.PIPE, text=True)
    try:
        address = re.search(r"http://\S+:\d+", server.stdout.readline()).group(0)
        while not (key := re.search(r"/session/local/(\w+)", server.stdout.readline())):
            pass
        check_plain(address)
        check_class(address, key.group(1))
        status, _, _ = ask(address + "/api/v1/sites", b"{}", "application/json", "POST")
        check(status == 405, "writing to a list is 405")
        for path in ("/..%2f..%2fetc/passwd", "/api/v1/cases/..%2f..%2fhealth", "/assets/%2e%2e/%2e%2e/etc/passwd"):
            status, _, _ = ask(address + path)
            check(status in (400, 404), f"{path} leads nowhere: {status}")
    finally:
        server.terminate()
        check(server.wait(timeout=10) == 0, "SIGTERM ends the server with 0")
    print("contract:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
