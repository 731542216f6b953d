"""What is charged for kit that came back broken. It stands on no invoice: a table for whoever writes one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.urls import reverse
from django.utils.timezone import localtime

from jobs.models import Job
from jobs.money.reports import ReportSpan
from jobs.money.tables import Cells, NamedCell, Table, TableColumn
from pricing.core.money import Money, add_up
from pricing.stores import kit

if TYPE_CHECKING:
    from datetime import date

    from pricing.models import KitNote
    from studio.access import Access


def charge_tables(access: Access, span: ReportSpan, _: date) -> dict[str, Table]:
    """By the day on which the amount was said; what has none yet is there without."""
    notes = [note for note in kit.kit_charges(access) if localtime(note.at).date() in span]
    held = access.rows(Job).filter(holder__in={note.holder_id for note in notes})
    jobs = {job.holder_id: job for job in held}
    said = [Money(note.amount, access.studio.currency) for note in notes if note.amount is not None]
    table = Table(
        name="charged", title="To charge for kit that came back broken",
        words="Before tax, and on no invoice yet." if notes else "",
        columns=(
            TableColumn(label="Day"), TableColumn(label="Job"), TableColumn(label="Thing"),
            TableColumn(label="What was found"),
            TableColumn(label="To charge", kind="money", unknown="no amount yet"),
        ),
        rows=tuple(_row(access, note, jobs.get(note.holder_id)) for note in notes),
        foot=("in all", "", "", "", add_up(said, access.studio.currency)),
        empty="Nothing that came back broken was charged in this time.",
    )  # fmt: skip
    return {table.name: table}


def _row(access: Access, note: KitNote, job: Job | None) -> Cells:
    amount = None if note.amount is None else Money(note.amount, access.studio.currency)
    url = reverse("jobs:payment", args=[job.number]) if job else ""
    name = NamedCell(shown=str(job or note.holder), written=str(job or note.holder), url=url)
    return localtime(note.at).date(), name, str(note.item), note.what, amount
