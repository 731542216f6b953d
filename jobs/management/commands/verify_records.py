import sys
from typing import Any

from django.core.management.base import BaseCommand

from jobs.records import record_faults
from studio.access import system_access
from studio.opening import studios_here


class Command(BaseCommand):
    help = "Walk every job's log and what it vouches for; exit 1 and say what was changed, if anything was."

    def handle(self, *args: Any, **options: Any) -> None:
        found = 0
        studios = studios_here()
        if not studios:
            self.stdout.write("There is no studio here yet: nothing to verify.")
            return
        for studio in studios:
            for sentence in record_faults(system_access(studio)):
                found += 1
                self.stdout.write(f"{studio.name}: {sentence}")
        if found:
            sys.exit(1)
        self.stdout.write("The records are as they were written.")
