from typing import Any

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.signals import before_sending, currency_changes, hour_wanted, pieces_wanted

        before_sending.connect(remind, dispatch_uid="reminders")
        currency_changes.connect(amounts_of_jobs, dispatch_uid="proposals and payments")
        pieces_wanted.connect(worked_pieces, dispatch_uid="worked pieces")
        hour_wanted.connect(hour_of_a_price, dispatch_uid="hour of a price")


def remind(**_: Any) -> None:
    """Imported when it is needed, so that every other command starts as fast as before."""
    from jobs.money.reminding import remind_daily

    remind_daily()


def worked_pieces(**asked: Any) -> Any:
    from jobs.first_pieces import answer_pieces

    return answer_pieces(**asked)


def hour_of_a_price(**asked: Any) -> Any:
    from jobs.first_pieces import answer_hour

    return answer_hour(**asked)


def amounts_of_jobs(*, studio: Any, **_: Any) -> str:
    """Amounts of jobs that are in the studio's currency."""
    from jobs.models import Offer, Payment
    from studio.access import system_access

    access = system_access(studio)
    there = {"proposals": access.rows(Offer), "payments": access.rows(Payment)}
    return " and ".join(name for name, rows in there.items() if rows.exists())
