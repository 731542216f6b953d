"""Brings a kept database up to today and says, as JSON, what became of it: `python -m tests.upgraded`.

A process of its own, because the database is not that of the tests: the environment names it.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")

type Rows = dict[str, dict[Any, dict[str, Any]]]

# Tables that were renamed, as they were called: each is compared with itself.
RENAMED = {
    "jobs_happening": "jobs_logentry",
    "jobs_calloff": "jobs_cancellation",
    "jobs_postponement": "jobs_eventmove",
    "jobs_keptpiece": "jobs_savedpiece",
    "jobs_hands": "jobs_studiopractice",
    "studio_seat": "studio_membership",
    "studio_press": "studio_submittedform",
    "studio_letter": "studio_outgoingmail",
}


def written_once() -> Rows:
    """The texts and papers of every append-only table that is there: table, key, column, value."""
    from django.db import connection

    from studio.append_only import guarded_tables

    found: Rows = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            today = RENAMED.get(table, table)
            if today not in guarded_tables():
                continue
            cursor.execute(f'SELECT * FROM "{table}"')
            names = [column[0] for column in cursor.description]
            found[today] = {
                row[names.index("id")]: {
                    name: bytes(value) if isinstance(value, memoryview) else value
                    for name, value in zip(names, row, strict=True)
                    if isinstance(value, str | bytes | memoryview)
                }
                for row in cursor.fetchall()
            }
    return found


def changed(before: Rows, after: Rows) -> list[str]:
    """What was written once and does not stand as it did; columns that are gone are not asked for."""
    return [
        f"{table} {key}: {name}"
        for table, rows in before.items()
        for key, row in rows.items()
        for name, value in row.items()
        if key not in after.get(table, {}) or after[table][key].get(name, value) != value
    ]


def counts() -> dict[str, int]:
    from django.db import connection

    with connection.cursor() as cursor:
        found = {}
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT COUNT(*) FROM "{table}"')
            found[RENAMED.get(table, table)] = cursor.fetchone()[0]
    return found


# Of each table what tells its rows of one holder apart, and what is summed; the titles that stood in rows too.
HELD = {
    "pricing_stockmove": ("key", "SUM(change)"), "pricing_reservation": ("key", "SUM(quantity)"),
    "pricing_kitbooking": ("item_id", "COUNT(*)"), "pricing_kitwish": ("key", "SUM(count)"),
    "pricing_kitnote": ("item_id", "COUNT(*)"),
}  # fmt: skip
IN_TEXT = "SELECT studio_id, about, {told}, {title}, {sum} FROM {table} r WHERE about <> '' GROUP BY 1, 2, 3, 4"
IN_ROWS = """SELECT r.studio_id, 'job:' || j.number, r.{told}, {title}, {sum} FROM {table} r
JOIN pricing_holder h ON h.id = r.holder_id JOIN jobs_job j ON j.holder_id = h.id GROUP BY 1, 2, 3, 4"""
WITH_ORDERS = """SELECT r.studio_id, 'order:' || o.number, r.key, '', SUM(change) FROM pricing_stockmove r
JOIN pricing_purchaseorder o ON o.id = r.order_id GROUP BY 1, 2, 3, 4"""


def held() -> set[tuple[Any, ...]]:
    """What jobs reserved, booked, wished for and took, and what orders brought: said in text once, by rows now."""
    from django.db import connection

    found: set[tuple[Any, ...]] = set()
    with connection.cursor() as cursor:
        for table in set(HELD) & set(connection.introspection.table_names(cursor)):
            description = connection.introspection.get_table_description(cursor, table)
            columns = {column.name for column in description}
            told, sums = HELD[table]
            title = "title" if "title" in columns else "h.title"
            titled = table not in ("pricing_stockmove", "pricing_kitnote")
            asked = [IN_TEXT if "about" in columns else IN_ROWS]
            asked += [WITH_ORDERS] if "order_id" in columns else []
            for query in asked:
                cursor.execute(
                    query.format(table=table, told=told, sum=sums, title=title if titled else "''")
                )
                found |= {(table, *map(str, row[:-1]), float(row[-1])) for row in cursor.fetchall()}
    return found


JOB_PAGES = (
    "brief", "design", "alternatives", "price", "proposal", "payment", "build", "packing", "after", "call-off",
    "postpone", "statement",
)  # fmt: skip
STUDIO_PAGES = (
    "jobs:today", "jobs:diary", "jobs:money", "jobs:reports", "jobs:practice", "jobs:jobs", "jobs:new", "jobs:buying",
    "pricing:stores", "pricing:rates", "pricing:stock", "pricing:kit", "pricing:orders", "studio:facts",
    "studio:letters",
)  # fmt: skip


def pages() -> Iterator[str]:
    """What the owner reads: the screens of the studio, and of every job."""
    from django.urls import reverse

    from jobs.models import Job

    yield from (reverse(name) for name in STUDIO_PAGES)
    for number in Job.objects.order_by("number").values_list("number", flat=True):
        yield from (reverse(f"jobs:{name}", args=[number]) for name in JOB_PAGES)


def addresses() -> Iterator[str]:
    """Every address that needs no more than a job's number, for each job, and every one that needs nothing."""
    from django.urls import URLPattern, URLResolver, get_resolver, reverse

    from jobs.models import Job

    def walk(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
        for entry in resolver.url_patterns:
            if isinstance(entry, URLResolver):
                yield from walk(entry, entry.namespace or space)
            else:
                yield f"{space}:{entry.name}", entry

    numbers = list(Job.objects.order_by("number").values_list("number", flat=True))
    for name, entry in walk(get_resolver()):
        if name == "studio:sign-out":
            continue
        needed = set(entry.pattern.converters)
        if not needed:
            yield reverse(name)
        elif needed == {"number"} and name.startswith("jobs:"):
            yield from (reverse(name, kwargs={"number": n}) for n in numbers)


def papers() -> Iterator[str]:
    """Clients' pages by their links, lists of the van, invoices, receipts, statements and tables."""
    from django.urls import reverse

    from jobs.models import ClientLink, Invoice, JobDesign, Payment
    from studio.tokens import derive

    for link in ClientLink.objects.filter(withdrawn_at=None).order_by("pk"):
        yield reverse("jobs:offer-page", args=[derive(link.salt)])
        yield reverse("jobs:offer-page-pdf", args=[derive(link.salt)])
    for invoice in Invoice.objects.order_by("pk"):
        yield reverse("jobs:invoice-file", args=[invoice.number, "pdf"])
    for payment in Payment.objects.select_related("job").order_by("pk"):
        yield reverse("jobs:receipt", args=[payment.job.number, payment.pk])
    for kind in ("csv", "beancount"):
        yield reverse("jobs:journal", args=[kind])
    for number in sorted(set(JobDesign.objects.values_list("job__number", flat=True))):
        yield from (reverse("jobs:list-pdf", args=[number, which]) for which in ("pick", "build"))


def answers(paths: Iterable[str]) -> dict[str, int]:
    from django.test import Client

    from studio.models import Membership

    browser = Client(raise_request_exception=False)
    browser.force_login(Membership.objects.filter(role="owner").order_by("pk")[0].person)
    return {path: browser.get(path).status_code for path in paths}


def main() -> None:
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    from jobs.records import record_faults
    from studio.access import system_access
    from studio.models import Studio

    settings.ALLOWED_HOSTS = ["testserver"]
    before, had, promised = written_once(), counts(), held()
    call_command("migrate", verbosity=0, skip_checks=True)
    after, has, kept = written_once(), counts(), held()
    read, printed = list(pages()), list(papers())
    got = answers({*read, *printed, *addresses()})
    json.dump(
        {
            "changed": changed(before, after),
            "held": sorted(promised ^ kept),
            "holds": len(kept)
            if "pricing_reservation" in had
            else None,  # None: before there were stores
            "lost": [t for t, many in had.items() if has.get(t, 0) < many],
            "faults": [
                s for one in Studio.objects.all() for s in record_faults(system_access(one))
            ],
            "written once": sum(map(len, before.values())),
            "pages": {path: got[path] for path in read},
            "papers": {path: got[path] for path in printed},
            "addresses": got,
        },
        sys.stdout,
        indent=1,
    )


if __name__ == "__main__":
    main()
