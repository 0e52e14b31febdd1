"""Killed with clients writing: no time to say goodbye, in all processes, in one of them, or in the one that started them.

Each round starts Foible with two processes on the same records, lets clients send answers, kills, and looks at the file: it must
be whole and hold every answer that was acknowledged, in any round, once.
"""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing, suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlencode

import numpy as np

from benchmarks.faults.processes import PATIENCE_S, children, free_port, wait_until
from benchmarks.faults.row import Row
from benchmarks.server import environment

__all__ = ["run"]

ROUNDS, SHORT = 200, 2
CLIENTS = 3
WORKERS = 2
FEW = 40
"""Answers that a client sends to one case."""
AT_LEAST = 5
"""Answers of each client before anything is killed."""
SEED = 2026
TEST = "tests/test_faults.py::test_a_short_form_of_each_part_loses_nothing"
SERVE = """
import sys
from foible.web import serve
serve.warm = lambda reasoning: None
port, data, workers = sys.argv[1:]
serve.serve_until_stopped(serve.ServeOptions(port=int(port), data=data, workers=int(workers), browse=False, copies=0))
"""
"""Foible as it is served, but for the warming up, which would take longer than the round."""
WAYS = ("all processes", "one that answers", "the one that started them")


@dataclass
class Client:
    """One device that opens cases and answers as fast as it can."""

    port: int
    name: str
    kept: list[tuple[str, str]] = field(default_factory=list)
    """Case and token of each answer that was acknowledged."""
    sent: int = 0
    wrong: list[str] = field(default_factory=list)

    def work(self, until: threading.Event) -> None:
        """Send answers until it is told to stop, or until nobody answers any more."""
        while not until.is_set():
            with suppress(OSError, HTTPException), closing(HTTPConnection("127.0.0.1", self.port, timeout=5)) as line:
                self._session(line, until)
            time.sleep(0.02)

    def _session(self, line: HTTPConnection, until: threading.Event) -> None:
        line.request("GET", "/new/foil")
        response = line.getresponse()
        page = response.read().decode()
        self._cookie = (response.headers["set-cookie"] or "").partition(";")[0]
        self._csrf = re.findall(r'name="csrf" value="([^"]*)"', page)[0]
        while not until.is_set():
            token = self._token()
            case = self._post(line, "/new/foil", token, say="It goes white, and I never hit anything", side="left")
            self.kept.append((case.rpartition("/")[2], ""))
            for _ in range(FEW):
                if until.is_set():
                    return
                token = self._token()
                self._post(line, f"{case}/answer", token, say="leave the whole strip at rest", left_white="steady")
                self.kept.append((case.rpartition("/")[2], token))

    def _token(self) -> str:
        self.sent += 1
        return f"{self.name}-{self.sent}"

    def _post(self, line: HTTPConnection, path: str, token: str, **fields: str) -> str:
        body = urlencode({"csrf": self._csrf, "token": token, **fields})
        line.request("POST", path, body, {"Content-Type": "application/x-www-form-urlencoded", "Cookie": self._cookie})
        response = line.getresponse()
        told = response.read()
        if response.status != 303:  # noqa: PLR2004 — HTTP: See Other
            self.wrong.append(f"{path}: {response.status} {told[:200]!r}")
            raise HTTPException(response.status)
        return response.headers["location"]


def run(*, short: bool = False) -> list[Row]:
    """Kill Foible so many times, and return what was lost."""
    rounds = SHORT if short else ROUNDS
    rng = np.random.default_rng(SEED)
    kept: list[tuple[str, str]] = []
    wrong: list[str] = []
    with TemporaryDirectory() as folder:
        data = Path(folder) / "records.db"
        for number in range(rounds):
            new, said = _round(data, number, rng)
            kept += new
            wrong += said + [f"round {number}: {each}" for each in _not_kept(data, kept, new)]
        wrong += _not_kept(data, kept, kept)
    answers = sum(bool(token) for _, token in kept)
    told = f"{rounds} rounds, {CLIENTS} clients, {len({case for case, _ in kept}):,} cases and {answers:,} answers acknowledged"
    promise = (
        "`kill -9` in all processes, in one that answers, or in the one that started them, while clients write, loses nothing"
    )
    return [Row(promise, TEST, told, len(wrong), tuple(wrong))]


def _round(data: Path, number: int, rng: np.random.Generator) -> tuple[list[tuple[str, str]], list[str]]:
    """Serve, write, kill; return what was acknowledged and what went wrong."""
    port = free_port()
    command = [sys.executable, "-c", SERVE, str(port), str(data), str(WORKERS)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=environment(), start_new_session=True)  # noqa: S603 — our own words
    stop = threading.Event()
    clients = [Client(port, f"{number}-{which}") for which in range(CLIENTS)]
    threads = [threading.Thread(target=client.work, args=(stop,)) for client in clients]
    try:
        _wait(port, server)
        for thread in threads:
            thread.start()
        _wait_for_answers(clients, server)
        time.sleep(float(rng.uniform(0.0, 0.8)))
        _kill(server, WAYS[number % len(WAYS)], rng)
        time.sleep(0.3 if number % len(WAYS) else 0.0)  # those that are left go on, or end by themselves
    finally:
        stop.set()
        with suppress(ProcessLookupError):
            os.killpg(server.pid, signal.SIGKILL)
        server.wait()
        for thread in threads:
            if thread.is_alive():
                thread.join()
    return [each for client in clients for each in client.kept], [each for client in clients for each in client.wrong]


def _wait_for_answers(clients: list[Client], server: subprocess.Popen[bytes]) -> None:
    def answered() -> bool:
        _still_runs(server)
        return all(len(client.kept) >= AT_LEAST for client in clients)

    wait_until(answered, f"no answers were acknowledged; {[client.wrong[:1] for client in clients]}")


def _kill(server: subprocess.Popen[bytes], way: str, rng: np.random.Generator) -> None:
    if way == "all processes":
        os.killpg(server.pid, signal.SIGKILL)
    elif way == "the one that started them":
        server.kill()
    else:
        started = children(server.pid)
        os.kill(started[int(rng.integers(len(started)))], signal.SIGKILL)


def _wait(port: int, server: subprocess.Popen[bytes]) -> None:
    def answers() -> bool:
        _still_runs(server)
        with suppress(OSError, HTTPException), closing(HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as probe:
            probe.request("GET", "/help")
            return probe.getresponse().status == 200  # noqa: PLR2004 — HTTP: OK
        return False

    wait_until(answers, "the server does not answer")


def _still_runs(server: subprocess.Popen[bytes]) -> None:
    if server.poll() is not None:
        msg = f"the server ended with {server.returncode}"
        raise RuntimeError(msg)


def _not_kept(data: Path, kept: list[tuple[str, str]], asked: list[tuple[str, str]]) -> list[str]:
    """Return what of the answers `asked` about is missing or doubled, and what is wrong with the file."""
    with closing(sqlite3.connect(data, timeout=PATIENCE_S)) as records:
        wrong = [row[0] for row in records.execute("PRAGMA integrity_check") if row[0] != "ok"]
        cases = {name for (name,) in records.execute("SELECT id FROM cases")}
        entries = records.execute("SELECT case_id, token FROM entries").fetchall()
    known = set(entries)
    wrong += [f"the case {case} is gone" for case, token in asked if not token and case not in cases]
    wrong += [f"the answer {token} to {case} is gone" for case, token in asked if token and (case, token) not in known]
    tokens = [each for each in entries if each[1]]
    wrong += [f"{len(tokens) - len(set(tokens))} answers are there twice"] if len(tokens) != len(set(tokens)) else []
    wrong += [f"{len(kept)} acknowledged, {len(entries)} there"] if len(entries) < sum(bool(token) for _, token in kept) else []
    return wrong
