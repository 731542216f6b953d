from typing import Any

from django.core.management.base import BaseCommand

from studio.mail import send_waiting


class Command(BaseCommand):
    help = "Send the letters that wait in the outbox, once."

    def handle(self, *args: Any, **options: Any) -> None:
        sent, failed = send_waiting()
        self.stdout.write(f"{sent} sent, {failed} to try again.")
