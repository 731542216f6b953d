import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.copies import backup
from studio.copies_tools import NoCopy


class Command(BaseCommand):
    help = "Write a copy of the whole database while it is in use, check it, and walk the records in it."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a new file")

    def handle(self, *args: Any, **options: Any) -> None:
        file = options["file"]
        try:
            told = backup(file)
        except NoCopy as reason:
            raise CommandError(str(reason)) from None
        self.stdout.write(
            f"{file}: a whole copy, {file.stat().st_size:,} bytes. Keep ARCHWRIGHT_SECRET with it, in another "
            "place: without it clients' links cannot be shown again."
        )
        if told:
            self.stderr.write("\n".join(told))
            sys.exit(1)
        self.stdout.write("The records in it are as they were written.")
