"""The web server, as a process that ends with the one that started it: `python -m studio.web PORT PARENT`."""

from __future__ import annotations

import os
import sys

from granian.constants import Interfaces
from granian.log import LogLevels
from granian.server import Server

from studio.supervising import end_with

HOST = "127.0.0.1"


def main() -> None:
    port, parent = map(int, sys.argv[1:])
    end_with(parent)
    os.environ["ARCHWRIGHT_SERVED_BY"] = str(
        os.getpid()
    )  # its workers end with it (studio/wsgi.py)
    Server(
        "studio.wsgi:application", address=HOST, port=port, interface=Interfaces.WSGI, workers=1,
        blocking_threads=4, log_access=False, log_level=LogLevels.warning, respawn_failed_workers=True,
        workers_kill_timeout=10,
    ).serve()  # fmt: skip


if __name__ == "__main__":
    main()
