"""Processes that belong together: what falls is started again, and what ends takes all the others with it."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

LOOK_S = 0.2
SHORT_S = 10.0  # one that lives no longer than this fell as it began
TIMES = 5  # as often in a row without ever having lived longer, and it is not worth another try
LONGEST_S = 30.0  # between two tries
GRACE_S = 12.0  # to finish what is in hand


class KeepsFalling(Exception):
    """A process that ends each time just after it began."""


@dataclass(slots=True)
class Supervised:
    """One process that is kept going."""

    name: str
    words: Sequence[str]
    child: subprocess.Popen[bytes] | None = None
    began: float = 0.0
    falls: int = 0  # in a row, each just after it began
    lived: bool = False  # longer than that, once
    again_at: float = 0.0


class Supervisor:
    """Runs commands until it is told to stop. `tell` hears what fell. Raises FallsAlways."""

    def __init__(self, commands: Mapping[str, Sequence[str]], tell: Callable[[str], object]):
        self.kept = [Supervised(name, words) for name, words in commands.items()]
        self.tell = tell
        self.going = True

    def run(self) -> None:
        for sign in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            if signal.getsignal(sign) is not signal.SIG_IGN:  # nohup
                signal.signal(sign, self.stop)
        try:
            while self.going:
                for one in self.kept:
                    self.look(one)
                time.sleep(LOOK_S)
        finally:
            self.end_all()

    def stop(self, *_: object) -> None:
        self.going = False

    def look(self, one: Supervised) -> None:
        now = time.monotonic()
        if one.child is None:
            if now >= one.again_at:
                # A group of its own: Ctrl-C is for this process, which ends the others in order.
                one.child, one.began = subprocess.Popen(one.words, start_new_session=True), now  # noqa: S603
        elif one.child.poll() is not None:
            self.fell(one, now)

    def fell(self, one: Supervised, now: float) -> None:
        """Clear away what it left behind, a process that holds the port perhaps, and set a time for the next try."""
        assert one.child
        kill_group(one.child.pid)
        short = now - one.began < SHORT_S
        one.falls, one.lived = one.falls + 1 if short else 1, one.lived or not short
        if one.falls >= TIMES and not one.lived:
            raise KeepsFalling(f"The {one.name} ended {TIMES} times in a row just after it began.")
        self.tell(f"The {one.name} ended ({one.child.returncode}); it is started again.")
        one.child, one.again_at = None, now + min(2.0 ** (one.falls - 1), LONGEST_S)

    def end_all(self) -> None:
        children = [one.child for one in self.kept if one.child]
        for child in children:
            child.terminate()
        until = time.monotonic() + GRACE_S
        for child in children:
            with suppress(subprocess.TimeoutExpired):
                child.wait(max(0.0, until - time.monotonic()))
            kill_group(child.pid)
            child.wait()


def kill_group(leader: int) -> None:
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(leader, signal.SIGKILL)


def end_with(parent: int) -> None:
    """End this process soon after its parent did, however that ended: by a signal first, then at once."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(LOOK_S)
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(GRACE_S)
        os._exit(1)

    threading.Thread(target=watch, name="ends with its parent", daemon=True).start()
