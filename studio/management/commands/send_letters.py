import logging
import os
import signal
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections

from studio.mail import send_waiting
from studio.required_settings import must_have_secrets
from studio.server_errors import is_away
from studio.signals import before_sending

log = logging.getLogger(__name__)
PAUSE_S, LONGEST_S = 3.0, 60.0
STEP_S = 0.5  # how soon it hears that it is to stop


class Command(BaseCommand):
    help = (
        "Send the letters that wait in the outbox: once, or for as long as this runs with --watch."
    )
    requires_system_checks = ()
    going = True
    told = ""  # the trouble that was told last

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
        for sign in (signal.SIGTERM, signal.SIGINT):
            signal.signal(sign, self.stop)
        self.stdout.write("Watching the outbox.")
        self.stdout.flush()
        self.parent = options["with_parent"]
        pause_s = PAUSE_S
        while self.goes_on():
            pause_s = PAUSE_S if self.round() else min(2 * pause_s, LONGEST_S)
            self.rest(pause_s)

    def goes_on(self) -> bool:
        return self.going and (not self.parent or os.getppid() == self.parent)

    def rest(self, pause_s: float) -> None:
        until = time.monotonic() + pause_s
        while self.goes_on() and (left := until - time.monotonic()) > 0:
            time.sleep(min(left, STEP_S))

    def round(self) -> bool:
        """Let other rooms write their letters, then send what waits; whether all went well.

        Nothing ends the worker: a database that is away comes back, and a fault in one round is told.
        """
        troubles = []
        try:
            close_old_connections()
            for room, fault in before_sending.send_robust(sender=type(self)):
                if fault:  # letters that wait already must go all the same
                    troubles.append((f"{room.__name__}: {fault!r}", fault))
            send_waiting()
        except Exception as fault:
            troubles.append((f"{fault!r}", fault))
        self.tell(troubles)
        return not troubles

    def tell(self, troubles: list[tuple[str, BaseException]]) -> None:
        """Each trouble once, not every few seconds; and when it is over."""
        now = "; ".join(what for what, _ in troubles)
        if now and now != self.told:
            fault = None if is_away(troubles[0][1]) else troubles[0][1]
            log.error("Letters wait: %s", now, exc_info=fault)
        elif self.told and not now:
            log.warning("Letters go again.")
        self.told = now

    def stop(self, *_: object) -> None:
        """Finish the letter in hand, then end."""
        self.going = False
