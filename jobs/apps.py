from typing import Any

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.signals import before_sending

        before_sending.connect(remind, dispatch_uid="reminders")


def remind(**_: Any) -> None:
    """Imported when it is needed, so that every other command starts as fast as before."""
    from jobs.money.reminding import daily_round

    daily_round()
