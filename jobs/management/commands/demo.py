from typing import Any

from django.core.management.base import BaseCommand

from jobs.demo import MAIL, PASSWORD, load_demo
from studio.models import Studio
from studio.required_settings import must_have_secrets


class Command(BaseCommand):
    help = "Load the demo studio, once: a studio that is there already stays as it is."

    def handle(self, *args: Any, **options: Any) -> None:
        must_have_secrets()
        if Studio.objects.exists():
            self.stdout.write("The studio is there already; nothing was loaded.")
        else:
            load_demo()
            self.stdout.write("The demo studio is loaded.")
        self.stdout.write(f"Sign in as {MAIL} with the password {PASSWORD}")
