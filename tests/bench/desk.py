"""The desk's page over a large register: each page beside a bare one, and a team at once.

    python -m tests.bench desk [--rows 100000] [--people 20] [--seconds 60]

Pages are asked for one after the other over TLS on this computer, in turn with a page of the
same size from a bare Starlette application. Then as many people as given work at once by a load
generator (``pip install locust``): they look, search and decide, each under an account of their
own; an answer that is an error and a decision that is not in the register afterwards count.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import socket
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
import time
from contextlib import closing
from pathlib import Path
from statistics import median, quantiles

from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
from evidence_app.deskpage.accounts import Accounts
from tests.bench._figures import compared, key_of, middle, told
from tests.deskpage.conftest import serving
from tests.deskpage.test_team import Person
from tests.deskpage.tls import certificate_in
from tests.making import make_package

PAGES = {
    "first page": "/",
    "all, by claim": "/?waiting=all&sort=claim",
    "rows from the middle": "/rows?waiting=all&start={middle}",
    "search of a claim": "/?waiting=all&claim=NQ-00{middle}",
    "search anywhere": "/?waiting=all&anything=H7-0",
    "one package": "/?waiting=all&package={middle}",
    "where repairs stop": "/stops",
    "how the work goes": "/work",
}
_BARE = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route
app = Starlette(routes=[Route("/", lambda request: HTMLResponse("<p>" + "x" * int(sys.argv[2])))])
uvicorn.run(app, port=int(sys.argv[1]), ssl_certfile=sys.argv[3], ssl_keyfile=sys.argv[4],
            log_level="error")
"""
# A line of the load generator: what was asked, how often, errors, average, least, most, median.
_SUMMED = r"(?m)^\w+ +(list|search|package|decide) +(\d+) +(\d+)\([^|]*\|[ \d]+\s\d+\s+\d+\s+(\d+) \|"
_WORD = "a long word of person {number}"


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench desk", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--seconds", type=int, default=60)
    chosen = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        register = filled(folder, chosen.rows)
        accounts = Accounts(register.path.with_name("accounts.json"))
        for number in range(chosen.people):
            accounts.put(f"Person {number}", "clerk", _WORD.format(number=number))
        certificate = certificate_in(folder)
        with serving(folder / "home") as start:
            address = start(
                "--register", register.path, "--listen", f"127.0.0.1:{free_port()}",
                "--certificate", certificate[0], "--key", certificate[1],
            ).rstrip("/")  # fmt: skip
            alone(address, certificate, chosen.rows)
            together(address, certificate[0], register, folder, chosen)
    return 0


def filled(folder: Path, rows: int) -> Register:
    """A register with one package taken in and ``rows`` more like it, each of a claim of its own."""
    register = Register(folder / "desk" / "register.db")
    Intake(register, Desk("desk 2")).take(make_package(folder / "job").path)
    with closing(sqlite3.connect(register.path)) as database, database:
        copied = {"packages": "id", "results": "package", "observations": "package", "readings": "package"}
        for table, number in copied.items():
            names = [row[1] for row in database.execute(f"PRAGMA table_info({table})")]
            kept = [name for name in names if name == number or name != "id"]
            first = database.execute(f"SELECT {','.join(kept)} FROM {table} WHERE {number} = 1").fetchall()
            into = f"INSERT INTO {table} ({','.join(kept)}) VALUES ({','.join('?' * len(kept))})"
            for n in range(2, rows + 2):
                of_its_own = {
                    number: n, "content_sha256": f"{n:064x}", "seal_sha256": f"{n:064x}", "job": f"job-{n}",
                    "claim": f"NQ-{n:06d}", "outcome": "stopped" if n % 7 == 0 else "completed",
                    "closed_utc": f"2026-{n % 11 + 1:02d}-{n % 28 + 1:02d}T08:00:00",
                } if table == "packages" else {number: n}  # fmt: skip
                database.executemany(
                    into, [[of_its_own.get(name, value) for name, value in zip(kept, row, strict=True)]
                           for row in first],
                )  # fmt: skip
    return register


def alone(address: str, certificate, rows: int) -> None:
    """Each page and the bare one in turn, as one person asks for them."""
    person = Person(address, certificate)
    person.sign_in("Person 0", _WORD.format(number=0))
    print(f"{'page':24}{'median ms':>10}{'95 % ms':>10}{'bare ms':>10}{'ratio':>8}")
    for name, path in PAGES.items():
        path = path.format(middle=rows // 2)
        size = len(person.ask(path)[1])
        port = free_port()
        bare = subprocess.Popen([sys.executable, "-c", _BARE, str(port), str(size), *map(str, certificate)])
        try:
            wait_for(port)
            other = Person(f"https://localhost:{port}", certificate)
            pairs = [(timed(person, path), timed(other, "/")) for _ in range(20)]
        finally:
            bare.terminate()
            bare.wait()
        ours, plain = zip(*pairs, strict=True)
        key = key_of(name)
        middle(key, ours, "ms")
        told(f"{key}-within", quantiles(ours, n=20)[-1], "ms", len(ours))
        middle(f"{key}-bare", plain, "ms")
        ratio = compared(f"{key}-ratio", ours, plain)
        print(
            f"{name:24}{median(ours):10.0f}{quantiles(ours, n=20)[-1]:10.0f}{median(plain):10.1f}{ratio:8.1f}"
        )


def together(address: str, certificate: Path, register: Register, folder: Path, chosen) -> None:
    script, told = folder / "people.py", folder / "decided.jsonl"
    script.write_text(_PEOPLE, "utf-8")
    environment = os.environ | {
        "TOLD": str(told),
        "ROWS": str(chosen.rows),
        "WORD": _WORD,
        "CERTIFICATE": str(certificate),
    }
    ended = subprocess.run(
        [sys.executable, "-m", "locust", "-f", script, "--headless", "--host", address, "--only-summary",
         "-u", str(chosen.people), "-r", str(chosen.people), "-t", f"{chosen.seconds}s"],
        env=environment, stderr=subprocess.STDOUT, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    print(ended.stdout)
    decided = [json.loads(line) for line in told.read_text("utf-8").splitlines()] if told.exists() else []
    with register.lookup() as database:
        query = "SELECT package, reason, by FROM events WHERE kind = 'decided'"
        kept = {tuple(row) for row in database.conn.execute(query)}
    lost = [each for each in decided if tuple(each) not in kept]
    told("decisions", len(decided))
    told("decisions-lost", len(lost))
    asked = re.findall(_SUMMED, ended.stdout)
    told("asked", sum(int(count) for _, count, _, _ in asked))
    told("errors", sum(int(failed) for _, _, failed, _ in asked))
    for kind, count, failed, each in asked:
        told(f"team-{kind}", float(each), "ms", int(count))
        told(f"team-{kind}-errors", int(failed), "", int(count))
    print(f"{chosen.people} people: decisions answered {len(decided)}, lost {len(lost)}")


def timed(person: Person, path: str) -> float:
    began = time.perf_counter()
    status, _ = person.ask(path)
    assert status == 200, (path, status)
    return 1000 * (time.perf_counter() - began)


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def wait_for(port: int) -> None:
    while True:
        with socket.socket() as trying:
            if trying.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)


_PEOPLE = textwrap.dedent('''
    """One person at a desk: looks, searches, decides."""

    import itertools, json, os, random
    from locust import HttpUser, between, task

    numbers = itertools.count()
    rows = int(os.environ["ROWS"])


    class Clerk(HttpUser):
        wait_time = between(0.5, 2.0)

        def on_start(self):
            self.client.verify = os.environ["CERTIFICATE"]
            self.number, self.decisions = next(numbers), itertools.count()
            form = {"name": f"Person {self.number}", "password": os.environ["WORD"].format(number=self.number)}
            self.client.headers["Origin"] = self.host
            self.client.post("/sign-in", form)
            self.change = self.client.get("/settings").text.split('name="change" content="')[1].split('"')[0]

        @task(4)
        def looks(self):
            self.client.get(f"/?waiting=all&start={random.randrange(rows)}", name="list")

        @task(2)
        def searches(self):
            self.client.get(f"/?waiting=all&claim=NQ-{random.randrange(rows):06d}", name="search")

        @task(3)
        def opens(self):
            self.client.get(f"/?waiting=all&package={random.randrange(1, rows)}", name="package")

        @task(2)
        def decides(self):
            package = random.randrange(1, rows)
            reason = f"decision {next(self.decisions)} of person {self.number}"
            form = {"change": self.change, "decision": "returned", "reason": reason}
            with self.client.post(f"/package/{package}/decide", form, name="decide", catch_response=True) as answer:
                if answer.status_code == 200:
                    with open(os.environ["TOLD"], "a") as told:
                        told.write(json.dumps([package, reason, f"Person {self.number}"]) + "\\n")
                else:
                    answer.failure(answer.text[:200])
''')
