"""A PostgreSQL server of one's own for tests: on a socket in a temporary folder only, and gone afterwards."""
import glob
import os
import pathlib
import shutil
import subprocess
import tempfile


class Postgres:
    def __init__(self, environment=None):
        """`environment`: what the server itself sees beside its own."""
        self.bin = pathlib.Path(sorted(glob.glob("/usr/lib/postgresql/*/bin"))[-1])
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="phren-pg-"))
        # The server refuses to run as root; the package brings a user for it.
        self.user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        if self.user:
            shutil.chown(self.folder, "postgres")
            self.folder.chmod(0o711)
        self.environment = dict(os.environ, **(environment or {}))
        self.data = self.folder / "data"
        self.shell("initdb", "-D", self.data, "-A", "trust", "-U", "phren", "--no-sync", "--data-checksums")
        self.connection = f"postgresql:host={self.folder} user=phren dbname=phren"
        self.start()
        self.shell("createdb", "-h", self.folder, "-U", "phren", "phren")

    def shell(self, program, *arguments, check=True):
        # A server that pg_ctl starts would keep our pipes open.
        out = subprocess.DEVNULL if program == "pg_ctl" else subprocess.PIPE
        run = subprocess.run([*self.user, str(self.bin / program), *map(str, arguments)], cwd="/", env=self.environment, stdout=out, stderr=out, text=True, timeout=120)
        if check and run.returncode != 0:
            raise RuntimeError(f"{program} ended with {run.returncode}: {run.stderr}")
        return run.stdout

    def start(self):
        # Synchronous: what it has confirmed outlives its own end.
        self.shell("pg_ctl", "-D", self.data, "-w", "-l", self.folder / "log", "-o", f"-h '' -k {self.folder} -c autovacuum=off", "start")

    def stop(self, mode="fast"):
        self.shell("pg_ctl", "-D", self.data, "-w", "-m", mode, "stop", check=False)

    def sql(self, text):
        return self.shell("psql", "-h", self.folder, "-U", "phren", "-d", "phren", "-qAt", "-c", text).strip()

    def hold(self, tables):
        """Locks tables, for ten minutes at most; ends when its session is ended."""
        return subprocess.Popen([*self.user, str(self.bin / "psql"), "-h", str(self.folder), "-U", "phren", "-d", "phren", "-q", "-c", f"BEGIN; LOCK TABLE {tables}; SELECT pg_sleep(600)"],
                                cwd="/", stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def remove(self):
        self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)
