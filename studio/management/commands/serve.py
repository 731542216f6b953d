import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.needed import must_have_secrets

HOST = "127.0.0.1"


class Command(BaseCommand):
    help = "Serve the site and send its mail on this machine, on the first free port from the one asked for."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=int(os.environ.get("PORT", "8000")))

    def handle(self, *args: Any, **options: Any) -> None:
        must_have_secrets()
        wanted = options["port"]
        port = next((p for p in range(wanted, min(wanted + 50, 65536)) if is_free(p)), None)
        if port is None:
            raise CommandError(f"port: expected a free one from {wanted} on, got none in fifty.")
        if port != wanted:
            self.stdout.write(f"Port {wanted} is taken; using {port}.")
        self.stdout.write(f"Open http://{HOST}:{port}/ in a browser. Ctrl-C stops it.")
        self.stdout.flush()
        # The server takes this process's place, so the worker's parent stays the same, and it ends with it.
        words = [
            sys.executable,
            sys.argv[0],
            "send_letters",
            "--watch",
            f"--with-parent={os.getpid()}",
        ]
        subprocess.Popen(words)  # noqa: S603  our own command
        granian = Path(sys.executable).parent / "granian"
        os.execv(  # noqa: S606  the server takes this process's place
            granian,
            [
                str(granian), "--interface", "wsgi", "--host", HOST, "--port", str(port), "--workers", "1",
                "--blocking-threads", "4", "--no-access-log", "--log-level", "warning", "studio.wsgi:application",
            ],
        )  # fmt: skip


def is_free(port: int) -> bool:
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HOST, port))
        except OSError:
            return False
    return True
