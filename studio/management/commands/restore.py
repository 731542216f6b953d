import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.copies import restore
from studio.copies_tools import NoCopy


class Command(BaseCommand):
    help = "Put a copy that `backup` made in the place of the database, once it is checked. Stop the site first."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the copy")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="though the database holds a studio: it is put aside",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            aside, told = restore(options["file"], replace=options["replace"])
        except NoCopy as reason:
            raise CommandError(str(reason)) from None
        self.stdout.write(f"The database is that of {options['file']}.")
        if aside:
            self.stdout.write(f"What was there before is kept as {aside}.")
        if told:
            self.stderr.write("\n".join(told))
            sys.exit(1)
        self.stdout.write("Its records are as they were written.")
