"""A `phren serve` of its own for tests, with a class of N learners and an open station."""
import json
import os
import pathlib
import re
import subprocess
import urllib.request


class Serving:
    def __init__(self, program, records, port=0, more=(), environment=None, stderr=subprocess.DEVNULL):
        """`more`: further options of the server. `cookie`: that of the instructor at this machine, while there are no accounts."""
        self.program, self.records = program, records
        self.process = subprocess.Popen([program, "serve", "--listen", f"127.0.0.1:{port}", "--records", str(records), "--create", *more],
                                        stdout=subprocess.PIPE, stderr=stderr, text=True, env=environment)
        said = self.process.stdout.readline()
        if not (found := re.search(r"http://\S+:\d+", said)):
            raise RuntimeError(f"the server ended with {self.process.wait()}")
        self.address = found.group(0)
        self.host, self.port = self.address.removeprefix("http://").split(":")
        self.cookie = self.csrf = ""
        if "--require-login" in more or "--public-url" in more or "--trusted-proxy" in more:
            return
        while said.strip() and not (key := re.search(r"/session/local/(\w+)", said)):
            said = self.process.stdout.readline()
        self.cookie = f"phren_local={key.group(1)}"
        self.csrf = self.ask("GET", "session")["csrf"]

    def ask(self, method, path, body=None, kind="application/json"):
        data = body.encode() if isinstance(body, str) else json.dumps(body).encode() if body is not None else None
        request = urllib.request.Request(f"{self.address}/api/v1/{path}", data=data, method=method)
        request.add_header("Content-Type", kind)
        request.add_header("X-Phren-CSRF", self.csrf)
        if self.cookie:
            request.add_header("Cookie", self.cookie)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.loads(answer.read())

    def open_station(self, learners, keys_file):
        """Returns the station's code and id; writes one key a line."""
        room = self.ask("POST", "classes", {"title": "Load"})["id"]
        roll = "login,name\n" + "".join(f"learner{i},Learner {i}\n" for i in range(learners))
        self.ask("PUT", f"classes/{room}/roster", roll, "text/csv")
        keys = [one["key"] for one in self.ask("GET", f"classes/{room}")["members"]]
        pathlib.Path(keys_file).write_text("\n".join(keys) + "\n")
        checklist = next(one for one in self.ask("GET", "checklists")["checklists"] if one["id"] == "asthma_station")
        station = self.ask("POST", f"classes/{room}/stations", {"title": "Load", "case_ids": ["asthma"], "checklist": checklist})
        self.ask("POST", f"stations/{station['id']}/state", {"state": "open"})
        return station["join_code"], station["id"]

    def resident_MB(self):
        text = pathlib.Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", text).group(1)) / 1024

    def cpu_s(self):
        fields = pathlib.Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def stop(self):
        self.process.terminate()
        return self.process.wait(timeout=30)
