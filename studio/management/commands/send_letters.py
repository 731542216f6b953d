import os
import signal
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections

from studio.mail import send_waiting
from studio.needed import must_have_secrets
from studio.signals import before_sending

PAUSE_S = 3.0


class Command(BaseCommand):
    help = (
        "Send the letters that wait in the outbox: once, or for as long as this runs with --watch."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--watch", action="store_true", help="go on until stopped")
        parser.add_argument(
            "--with-parent",
            type=int,
            default=0,
            help="stop when that process is not the parent any more",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        must_have_secrets()
        if not options["watch"]:
            sent, failed = send_waiting()
            self.stdout.write(f"{sent} sent, {failed} to try again or to decide.")
            return
        self.going = True
        for sign in (signal.SIGTERM, signal.SIGINT):
            signal.signal(sign, self.stop)
        self.stdout.write("Watching the outbox.")
        self.stdout.flush()
        parent = options["with_parent"]
        while self.going and (not parent or os.getppid() == parent):
            close_old_connections()
            for room, fault in before_sending.send_robust(sender=type(self)):
                if fault:  # letters that wait already must go all the same
                    self.stderr.write(f"{room.__name__}: {fault!r}")
            send_waiting()
            time.sleep(PAUSE_S)

    def stop(self, *_: object) -> None:
        """Finish the letter in hand, then end."""
        self.going = False
