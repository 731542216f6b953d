import json
import sys
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

from django.core.management.base import CommandParser

from jobs.design.working import work_out
from jobs.inputs import practice_of
from jobs.management.commands import takeoff
from pricing.book.price_book import NoRates, book_for
from pricing.core.quote import Terms, make_quote
from pricing.core.quote_data import costing_data, costing_of, figures_data
from studio.access import system_access
from studio.opening import studios_here


class Command(takeoff.Command):
    help = "Read a design document, count it as the studio's hands do, and price it from its price book."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", nargs="?", default="-", help="a design document; - reads standard input"
        )
        parser.add_argument(
            "--units",
            choices=["metric", "imperial"],
            help="of findings and steps; else the studio's",
        )
        parser.add_argument(
            "--on", type=date.fromisoformat, help="prices in force on this day; today otherwise"
        )
        parser.add_argument("--km", default="0", help="one way to the venue")
        parser.add_argument("--trips", type=int, default=2)

    def handle(self, *args: Any, **options: Any) -> None:
        design = self.read(options["file"])
        studio = next(iter(studios_here()), None)
        if studio is None:
            self.fail("studio: expected one, got none. Open it in the browser first.")
        access = system_access(studio)
        units = options["units"] or access.units
        terms = Terms(
            deposit_percent=studio.deposit_percent,
            travel_km=self.km(options["km"]),
            trips=options["trips"],
        )
        try:
            book = book_for(access, options["on"] or studio.today())
        except NoRates as reason:
            self.fail(str(reason))
        worked = work_out(design, units=units, practice=practice_of(access), sold=book.knows)
        counted = worked.takeoff
        quote = make_quote(counted.needs, counted.labour, book, terms)
        price = {
            "client": figures_data(quote.for_client()),
            "owner": costing_data(costing_of(quote)),
            "unpriced": list(quote.unpriced),
        }
        data = {
            "title": design.title,
            **takeoff.takeoff_data(worked, units),
            "price": price,
        }
        self.stdout.write(json.dumps(data, indent=1, ensure_ascii=False))

    def km(self, text: str) -> Decimal:
        """A way as it was typed; what is none ends the command."""
        try:
            km = Decimal(text)
        except InvalidOperation:
            km = Decimal("nan")
        if not (km.is_finite() and 0 <= km < 100_000):
            self.fail(f"km: expected a number of kilometres, got {text}.")
        return km

    def fail(self, sentence: str) -> NoReturn:
        self.stderr.write(sentence)
        sys.exit(2)
