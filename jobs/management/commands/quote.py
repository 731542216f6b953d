import json
import sys
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

from django.core.management.base import CommandParser

from jobs.design.working import work_out
from jobs.management.commands import takeoff
from pricing.core.quote import Terms, as_data, make_quote, owner_data
from pricing.shelf import NoRates, book_for
from studio.door import errand_for
from studio.models import Studio


class Command(takeoff.Command):
    help = "Read a design document, count it, and price it from the studio's price book."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", nargs="?", default="-", help="a design document; - reads standard input"
        )
        parser.add_argument("--units", choices=["metric", "imperial"], default="metric")
        parser.add_argument(
            "--on", type=date.fromisoformat, help="prices in force on this day; today otherwise"
        )
        parser.add_argument("--km", default="0", help="one way to the venue")
        parser.add_argument("--trips", type=int, default=2)

    def handle(self, *args: Any, **options: Any) -> None:
        design = self.read(options["file"])
        studio = Studio.objects.order_by("pk").first()
        if studio is None:
            self.fail("studio: expected one, got none. Open it in the browser first.")
        try:
            terms = Terms(
                deposit_percent=studio.deposit_percent,
                travel_km=Decimal(options["km"]),
                trips=options["trips"],
            )
            book = book_for(errand_for(studio), options["on"] or studio.today())
        except InvalidOperation:
            self.fail(f"km: expected a number, got {options['km']}.")
        except NoRates as reason:
            self.fail(str(reason))
        worked = work_out(design, units=options["units"], sold=book.knows)
        counted = worked.takeoff
        quote = make_quote(counted.needs, counted.labour, book, terms)
        price = {
            "client": as_data(quote.for_client()),
            "owner": owner_data(quote),
            "unpriced": list(quote.unpriced),
        }
        data = {
            "title": design.title,
            **takeoff.takeoff_data(worked, options["units"]),
            "price": price,
        }
        self.stdout.write(json.dumps(data, indent=1, ensure_ascii=False))

    def fail(self, sentence: str) -> NoReturn:
        self.stderr.write(sentence)
        sys.exit(2)
