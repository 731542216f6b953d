import sys
from typing import Any

from django.core.management.base import BaseCommand

from jobs.records import faults
from studio.door import errand_for
from studio.models import Studio


class Command(BaseCommand):
    help = "Walk every job's log and what it vouches for; exit 1 and say what was changed, if anything was."

    def handle(self, *args: Any, **options: Any) -> None:
        found = 0
        for studio in Studio.objects.order_by("pk"):
            for sentence in faults(errand_for(studio)):
                found += 1
                self.stdout.write(f"{studio.name}: {sentence}")
        if found:
            sys.exit(1)
        self.stdout.write("The records are as they were written.")
