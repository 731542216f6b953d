import os
import socket
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from studio.required_settings import must_have_secrets
from studio.supervising import KeepsFalling, Supervisor
from studio.web import HOST


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
        self.make_ready()
        if port != wanted:
            self.stdout.write(f"Port {wanted} is taken; using {port}.")
        self.stdout.write(address_at(port))
        self.stdout.flush()
        own = str(os.getpid())
        commands = {
            "web server": [sys.executable, "-m", "studio.web", str(port), own],
            "mail worker": [sys.executable, sys.argv[0], "send_letters", "--watch", f"--with-parent={own}"],
        }  # fmt: skip
        try:
            Supervisor(commands, self.stderr.write).run()
        except KeepsFalling as reason:
            raise CommandError(f"{reason} What it said last stands above.") from None

    def make_ready(self) -> None:
        """Tables as this version needs them; style and scripts where they are served from."""
        try:
            behind = is_behind()
        except DatabaseError as error:  # pages say so until it is back
            self.stderr.write(f"The database cannot be reached: {error}")
            behind = False
        if behind:
            raise CommandError(
                "The database is not that of this version: make a backup if it holds anything (`manage.py backup "
                "FILE`), then run `manage.py migrate`."
            )
        if settings.DEBUG:
            return
        try:
            call_command("collectstatic", interactive=False, verbosity=0)
        except OSError as error:
            raise CommandError(
                f"{settings.STATIC_ROOT}: expected a folder to put style and scripts into, got “{error}”."
            ) from None


def address_at(port: int) -> str:
    at = f"http://{HOST}:{port}/"
    if settings.DEBUG:
        return f"Open {at} in a browser. Ctrl-C stops it."
    return (
        f"Serving {settings.SITE} at {at} for the proxy that keeps its certificate: it passes Host on and sets "
        "X-Forwarded-Proto. Ctrl-C stops it."
    )


def is_behind() -> bool:
    """Whether migrations wait. Raises DatabaseError."""
    try:
        executor = MigrationExecutor(connection)
        return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
    finally:
        connection.close()
        if pool := getattr(connection, "close_pool", None):
            pool()


def is_free(port: int) -> bool:
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HOST, port))
        except OSError:
            return False
    return True
