"""`manage.py serve` for real: outside debug, with its processes killed, with its data away."""

from __future__ import annotations

import itertools
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest

from studio.supervising import LONGEST_S, TIMES, KeepsFalling, Supervised, Supervisor

HOME = Path(__file__).parent.parent.parent
PATIENCE_S = 60.0  # of a test on a machine that others use too


def until[Found](look: Callable[[], Found], patience_s: float = PATIENCE_S) -> Found:
    """What a look finds, as soon as it finds something."""
    end = time.monotonic() + patience_s
    while not (found := look()):
        assert time.monotonic() < end, "expected it by now, got nothing"
        time.sleep(0.1)
    return found


def family(of: int) -> set[int]:
    """The processes that a process started, and those that they started (proc(5))."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
        except OSError:
            continue  # ended meanwhile
        if state != "Z":
            parents[int(folder.name)] = int(parent)
    found, new = set[int](), {of}
    while new:
        new = {pid for pid, parent in parents.items() if parent in new}
        found |= new
    return found


def words(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")
    except OSError:
        return ""


def lives(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@dataclass
class Served:
    main: subprocess.Popen[str]
    port: int
    var: Path

    def get(self, path: str = "/first/") -> tuple[int, str]:
        asked = Request(
            f"http://127.0.0.1:{self.port}{path}", headers={"X-Forwarded-Proto": "https"}
        )
        try:
            with urlopen(asked, timeout=20) as answer:
                return answer.status, answer.read().decode()
        except HTTPError as error:
            return error.code, error.read().decode()
        except (URLError, OSError):
            return 0, ""

    def is_up(self) -> bool:
        return self.get()[0] == 200

    def running(self, what: str) -> list[int]:
        return [pid for pid in family(self.main.pid) if what in words(pid)]


def environment(var: Path, **more: str) -> dict[str, str]:
    return {
        **os.environ, "ARCHWRIGHT_VAR": str(var), "ARCHWRIGHT_DEBUG": "0", "ARCHWRIGHT_SECRET": "s" * 60,
        "ARCHWRIGHT_HOSTS": "127.0.0.1", "DATABASE_URL": "", "DJANGO_SETTINGS_MODULE": "studio.settings", **more,
    }  # fmt: skip


def manage(var: Path, *said: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *said], cwd=HOME, env=environment(var), capture_output=True, text=True,
        timeout=180, check=False,
    )  # fmt: skip


def serve(var: Path) -> Served:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        wanted = trial.getsockname()[1]
    main = subprocess.Popen(
        [sys.executable, "manage.py", "serve", f"--port={wanted}"], cwd=HOME, env=environment(var),
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert main.stdout
    for line in main.stdout:
        if at := re.search(r"http://127\.0\.0\.1:(\d+)/", line):
            served = Served(main, int(at[1]), var)
            until(served.is_up)
            return served
    raise AssertionError("expected an address, got none")


@pytest.fixture(scope="module")
def var(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the README says to do before `serve`."""
    folder = tmp_path_factory.mktemp("var")
    assert manage(folder, "migrate", "-v0").returncode == 0
    return folder


@pytest.fixture(scope="module")
def shared(var: Path) -> Iterator[Served]:
    served = serve(var)
    yield served
    own = {*family(served.main.pid), served.main.pid}
    served.main.send_signal(signal.SIGTERM)
    assert served.main.wait(60) == 0
    until(lambda: not any(map(lives, own)))


def test_pages_and_their_style_are_served_outside_debug(shared: Served) -> None:
    status, page = shared.get("/first/")
    assert status == 200
    (style,) = re.findall(r'href="(/static/house\.[0-9a-f]+\.css)"', page)
    assert shared.get(style)[0] == 200


def test_a_web_worker_that_is_killed_is_back(shared: Served) -> None:
    main = min(shared.running("studio.web"))  # the server, then its worker
    (worker,) = family(main)
    os.kill(worker, signal.SIGKILL)
    until(shared.is_up)
    assert lives(main)
    assert worker not in until(lambda: family(main))


def test_a_web_server_that_is_killed_leaves_no_worker_and_is_back(shared: Served) -> None:
    before = shared.running("studio.web")
    os.kill(min(before), signal.SIGKILL)
    until(lambda: not any(map(lives, before)))
    until(shared.is_up)


def test_a_mail_worker_that_is_killed_is_back(shared: Served) -> None:
    (worker,) = until(lambda: shared.running("send_letters"))
    os.kill(worker, signal.SIGKILL)
    assert until(lambda: [pid for pid in shared.running("send_letters") if pid != worker])


def test_a_file_that_somebody_holds_is_503_within_three_seconds_and_read_afterwards(
    shared: Served,
) -> None:
    held = sqlite3.connect(shared.var / "archwright.sqlite3", timeout=20, isolation_level=None)
    held.execute("BEGIN EXCLUSIVE")
    began = time.monotonic()
    status, page = shared.get("/first/")
    took_s = time.monotonic() - began
    held.execute("ROLLBACK")
    held.close()
    assert (status, "Not to be reached just now" in page) == (503, True)
    assert 2 < took_s < 4  # three, and one for a machine that others use too
    assert shared.is_up()
    assert shared.running("send_letters")  # the mail worker went on


def test_when_serve_itself_is_killed_nothing_of_it_is_left(var: Path) -> None:
    served = serve(var)
    own = family(served.main.pid)
    assert len(own) == 3  # web server, its worker, mail worker
    served.main.kill()
    served.main.wait()
    until(lambda: not any(map(lives, own)))
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        trial.bind(("127.0.0.1", served.port))


def test_serve_says_to_migrate_first(tmp_path: Path) -> None:
    told = manage(tmp_path, "serve")
    assert told.returncode == 1
    assert "run `manage.py migrate`" in told.stderr


ASK = """
import io, time
from wsgiref.util import setup_testing_defaults
from studio.wsgi import application
facts = {"PATH_INFO": "/sign-in/", "HTTP_HOST": "127.0.0.1", "HTTP_X_FORWARDED_PROTO": "https"}
setup_testing_defaults(facts)
for _ in "ab":  # the first one loads the site
    began = time.monotonic()
    page = b"".join(application(dict(facts), lambda status, headers: print(status)))
print(time.monotonic() - began)
"""


def test_a_server_that_is_away_is_503_within_three_seconds(tmp_path: Path) -> None:
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))  # taken, and nobody listens
        url = f"postgres://somebody@127.0.0.1:{closed.getsockname()[1]}/none"
        done = subprocess.run(
            [sys.executable, "-c", ASK], cwd=HOME, env=environment(tmp_path, DATABASE_URL=url),
            capture_output=True, text=True, timeout=120, check=True,
        )  # fmt: skip
    *statuses, took_s = done.stdout.splitlines()
    assert [status[:3] for status in statuses] == ["503", "503"]
    assert float(took_s) < 4
    assert "OperationalError" in done.stderr


@pytest.fixture
def keeper(monkeypatch: pytest.MonkeyPatch) -> Supervisor:
    """Of a process that ends at once, and a clock that moves a second with each look."""
    seconds = itertools.count()
    monkeypatch.setattr("studio.supervising.time.sleep", lambda _: None)
    monkeypatch.setattr("studio.supervising.time.monotonic", lambda: float(next(seconds)))
    monkeypatch.setattr("studio.supervising.signal.signal", lambda *_: None)
    monkeypatch.setattr("studio.supervising.SHORT_S", 1e9)
    told: list[str] = []
    return Supervisor({"clock": [sys.executable, "-c", "raise SystemExit(3)"]}, told.append)


def test_what_never_lived_is_given_up(keeper: Supervisor) -> None:
    told: list[str] = []
    keeper.tell = told.append
    with pytest.raises(KeepsFalling, match=f"The clock ended {TIMES} times in a row"):
        keeper.run()
    assert told == ["The clock ended (3); it is started again."] * (TIMES - 1)


def test_what_lived_once_is_started_again_for_ever_with_pauses(keeper: Supervisor) -> None:
    keeper.kept[0].lived = True
    again: list[float] = []
    keeper.tell = lambda _: again.append(keeper.kept[0].began)
    looked = keeper.look

    def look(one: Supervised) -> None:
        looked(one)
        keeper.going = len(again) < TIMES + 3

    keeper.look = look  # type: ignore[method-assign]
    keeper.run()
    pauses = [later - sooner for sooner, later in itertools.pairwise(again)]
    for pause_s, least_s in zip(pauses, (1, 2, 4, 8, 16, LONGEST_S, LONGEST_S), strict=True):
        assert pause_s >= least_s
