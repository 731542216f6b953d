import sys
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from jobs.money.reminding import write_reminders
from studio.access import system_access
from studio.models import Studio
from studio.required_settings import must_have_secrets


class Command(BaseCommand):
    help = "Write today's reminders of every studio into the outbox; none twice, whoever ran it before."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--on", help="a day (2026-05-01) in place of today")

    def handle(self, *args: Any, **options: Any) -> None:
        must_have_secrets()
        try:
            asked = date.fromisoformat(options["on"]) if options["on"] else None
        except ValueError:
            self.stderr.write(f"--on: expected a day such as 2026-05-01, got {options['on']}.")
            sys.exit(2)
        for studio in Studio.objects.order_by("pk"):
            on = asked or timezone.now().astimezone(ZoneInfo(studio.timezone)).date()
            with timezone.override(studio.timezone):
                many = write_reminders(system_access(studio), on=on)
            self.stdout.write(f"{studio.name}: {many} written.")
