"""What was offered reads as it was stored, whenever that was; what is written is stored as it always was."""

from __future__ import annotations

import json
import lzma
import sqlite3
import tempfile
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from jobs.design.document import Design
from jobs.models import Acceptance, Job, Offer
from jobs.proposal.corrected import correction_data, correction_from
from jobs.proposal.frozen import (
    choice_figures_data,
    contents_data,
    event_data,
    terms_data,
)
from pricing.core.cancelling import Scale
from pricing.core.instalments import plan_as_data
from pricing.core.money import Money, add_up
from pricing.core.quote_data import costing_data
from pricing.core.tax import tax_lines_data, tax_lines_from
from tests.keep_database import KEPT

FILES = sorted(KEPT.glob("*.sqlite3.xz"))
TEXTS = ("design", "figures", "owner_figures", "schedule", "choices")
NOW = Design.model_fields["version"].default
AMOUNTS = ("price", "discount", "net", "tax", "total", "deposit", "balance")


def rows_of(file: Path, table: str) -> list[dict[str, Any]]:
    with tempfile.NamedTemporaryFile(suffix=".sqlite3") as copy:
        copy.write(lzma.decompress(file.read_bytes()))
        copy.flush()
        kept = sqlite3.connect(copy.name)
        try:
            kept.row_factory = sqlite3.Row
            there = kept.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone()
            return [dict(row) for row in kept.execute(f"SELECT * FROM {table}")] if there else []
        finally:
            kept.close()


def offers_of(file: Path) -> Iterator[tuple[Offer, dict[str, Any]]]:
    """Each offer as a row of today, and its columns as text; the first landing had no choices."""
    for stored in rows_of(file, "jobs_offer"):
        texts = {name: stored.get(name, "[]") for name in TEXTS}
        columns = {name: json.loads(text) for name, text in texts.items()}
        job = Job(number=stored["job_id"])
        yield Offer(pk=stored["id"], job=job, version=stored["version"], **columns), texts


def stored_ways(offer: Offer) -> list[dict[str, Any]]:
    """The ways of an offer as they are stored, whole."""
    alone = {
        "letter": "", "name": "", "figures": offer.figures, "owner_figures": offer.owner_figures,
        "schedule": offer.schedule, "design": offer.design,
    }  # fmt: skip
    return list(offer.choices) or [alone]


@pytest.fixture(params=FILES, ids=lambda path: path.name.split(".")[0])
def offers(request: Any) -> list[tuple[Offer, dict[str, Any]]]:
    found = list(offers_of(request.param))
    assert len(found) >= 3
    return found


def test_there_are_kept_offers_with_and_without_a_choice() -> None:
    every = [offer for file in FILES for offer, _ in offers_of(file)]
    assert {offer.leaves_choice for offer in every} == {True, False}
    assert {offer.event is None for offer in every} == {True, False}
    assert {offer.terms is None for offer in every} == {True, False}


def test_figures_and_payments_are_those_that_are_stored(
    offers: list[tuple[Offer, dict[str, Any]]],
) -> None:
    for offer, _ in offers:
        for stored in stored_ways(offer):
            way, figures = offer.choice(stored["letter"]), stored["figures"]
            told = {name: getattr(way.figures, name) for name in AMOUNTS}
            assert told == {n: Money(Decimal(figures[n]), figures["currency"]) for n in AMOUNTS}
            assert way.figures.net + way.figures.tax == way.figures.total
            assert add_up((g.tax for g in way.figures.groups), "GBP") == way.figures.tax
            plan = [(due.what, due.on, due.amount.amount) for due in way.plan]
            assert plan == [
                (d["what"], date.fromisoformat(d["on"]), Decimal(d["amount"])) for d in stored["schedule"]
            ]  # fmt: skip
            assert add_up((due.amount for due in way.plan), "GBP") == way.figures.total
            assert (way.call_off is None) is ("call_off" not in figures)
            names = tuple(option["name"] for option in stored.get("options", ()))
            assert (way.letter, way.name, way.extras) == (stored["letter"], stored["name"], names)
            assert list(way.ticked) == stored.get("ticked", [])


def test_costs_and_contents_are_those_that_are_stored(
    offers: list[tuple[Offer, dict[str, Any]]],
) -> None:
    for offer, _ in offers:
        for stored in stored_ways(offer):
            letter, owner = stored["letter"], stored["owner_figures"]
            costing, contents = offer.costing_of(letter), offer.contents_of(letter)
            assert (costing.cost.amount, costing.margin.amount) == (
                Decimal(owner["cost"]),
                Decimal(owner["margin"]),
            )
            assert add_up((line.cost for line in costing.lines), "GBP") == costing.cost
            assert costing.cost + costing.margin == offer.choice(letter).figures.net
            labour = [line for line in owner["lines"] if line["kind"] == "labour"]
            work = add_up((work.cost for work in costing.work.values()), "GBP")
            assert work.amount == sum(Decimal(line["cost"]) for line in labour)
            assert (contents is None) is ("balls" not in owner)
            if contents:
                assert contents.balls == int(owner["balls"]) == sum(contents.colours.values())
            names = [piece.name for piece in offer.design_of(letter).pieces]
            assert names == [piece["name"] for piece in stored["design"]["pieces"]]


def test_event_and_terms_are_those_that_are_stored(
    offers: list[tuple[Offer, dict[str, Any]]],
) -> None:
    for offer, _ in offers:
        owner = offer.owner_figures
        if offer.event:
            told = {name: getattr(offer.event, name) for name in ("starts", "ends", "venue")}
            kept = owner["event"]
            times = {name: datetime.fromisoformat(kept[name]) for name in ("starts", "ends")}
            assert told == {**times, "venue": kept["venue"]}
        if offer.terms:
            terms = dict(offer.terms)
            assert terms.keys() == owner["terms"].keys()
            assert {name: str(value) for name, value in terms.items()} == {
                name: str(value) for name, value in owner["terms"].items()
            }


def test_what_was_read_is_written_byte_for_byte(
    offers: list[tuple[Offer, dict[str, Any]]],
) -> None:
    for offer, texts in offers:
        for stored in stored_ways(offer):
            way, letter = offer.choice(stored["letter"]), stored["letter"]
            contents = offer.contents_of(letter)
            owner = costing_data(offer.costing_of(letter)) | (
                contents_data(contents) if contents else {}
            )
            if not offer.leaves_choice:
                owner |= {"event": event_data(offer.event)} if offer.event else {}
                owner |= {"terms": terms_data(offer.terms)} if offer.terms else {}
            options = [option.model_dump(mode="json") for option in way.options]
            design = offer.design_of(letter).model_dump(mode="json")
            made = {
                "figures": choice_figures_data(way),
                "owner_figures": owner,
                "schedule": plan_as_data(way.plan),
            }
            if offer.leaves_choice:
                made |= {"ticked": list(way.ticked), "options": options}
            if stored["design"]["version"] == NOW:
                made |= {"design": design}
            assert {name: json.dumps(made[name]) for name in made} == {
                name: json.dumps(stored[name]) for name in made
            }
        assert (
            json.dumps(offer.schedule) == texts["schedule"]
        )  # as the column has it, to the letter


@pytest.mark.parametrize("file", FILES, ids=lambda path: path.name.split(".")[0])
def test_papers_and_yeses_of_the_kept_databases_read(file: Path) -> None:
    known = {offer.pk: offer for offer, _ in offers_of(file)}
    yeses = rows_of(file, "jobs_acceptance")
    assert yeses
    for row in yeses:
        yes = Acceptance(offer=known[row["offer_id"]], choice=row.get("choice", ""))
        assert yes.agreed.figures.total.amount == Decimal(yes.offer.figures["total"])
        assert yes.costing.cost.amount == Decimal(yes.offer.owner_figures["cost"])
        assert len(yes.design.pieces) == len(yes.offer.design["pieces"])
    for row in rows_of(file, "jobs_invoice"):
        lines = tax_lines_from(json.loads(row["groups"]), "GBP")
        assert json.dumps(tax_lines_data(lines)) == row["groups"]
        assert add_up((line.net for line in lines), "GBP").amount == Decimal(str(row["net"]))


# Shapes that no kept database has


def an_offer(**columns: Any) -> Offer:
    (offer, _), *_ = (pair for pair in offers_of(FILES[-1]) if pair[0].leaves_choice)
    for name, value in columns.items():
        setattr(offer, name, value)
    return offer


def test_choices_from_before_there_were_extras() -> None:
    offer = an_offer()
    bare = {"letter", "name", "figures", "owner_figures", "schedule", "design"}
    offer.choices = [{n: c[n] for n in c if n in bare} for c in offer.choices]
    assert [(way.letter, way.ticked, way.extras) for way in offer.ways] == [
        (choice["letter"], (), ()) for choice in offer.choices
    ]
    assert offer.alternatives == offer.ways


def test_contents_from_before_colours_were_kept() -> None:
    offer = an_offer(choices=[])
    offer.owner_figures.pop("colours")
    contents = offer.contents_of("")
    assert contents
    assert (contents.balls > 0, contents.colours) == (True, {})


def test_a_choice_is_found_by_its_letter_alone() -> None:
    offer = an_offer()
    assert [way.letter for way in offer.ways] == ["A", "A1"]
    assert [way.letter for way in offer.alternatives] == ["A"]
    for letter in ("", "B"):
        with pytest.raises(KeyError):
            offer.choice(letter)
    offer.choices = []
    assert offer.choice("A") == offer.choice("") == offer.ways[0]
    with pytest.raises(KeyError):
        offer.design_of("B")


def test_a_scale_and_a_number_are_written_as_they_are_read() -> None:
    rows = [["60", "25"], ["14", "62.5"], ["0", "100"]]
    assert Scale.read(rows).rows() == rows
    assert an_offer(job=Job(number=7), version=12).number == "0007-12"


def test_a_damaged_offer_is_refused() -> None:
    offer = an_offer(choices=[])
    offer.owner_figures = {
        **offer.owner_figures,
        "lines": [{**offer.owner_figures["lines"][0], "kind": "gift"}],
    }
    with pytest.raises(KeyError):
        offer.costing_of("")
    figures = dict(offer.figures)
    for total, error in (
        (12.5, TypeError),
        ("12.505", ValueError),
        ("much", ValueError),
        ("NaN", ValueError),
    ):
        offer.figures = {**figures, "total": total}
        with pytest.raises(error, match="amount: expected"):
            offer.choice("")


TERMS = {
    "travel_km": "12.5", "trips": 2, "crew": 1, "tolls": "0", "venue_cost": "0", "odd_hours": False, "rush": True,
    "strike_fee": "0", "margin_percent": None, "extra_label": "", "extra_cost": "0", "discount": "5", "tax_treatment": "usual",
    "tax_reason": "",
}  # fmt: skip


@pytest.mark.parametrize("facts", [{"was": "a", "is": "b"}, {"before": TERMS}])
def test_a_correction_is_written_as_it_is_read(facts: dict[str, Any]) -> None:
    line = {
        "corrected": "design" if "was" in facts else "terms", "proposal": "0001-1", "why": "wind", **facts,
        "changed": [["discount", "5", "7"]],
    }  # fmt: skip
    record = correction_from(line)
    assert record
    assert (record.what, record.why, len(record.changed)) == (line["corrected"], "wind", 1)
    assert json.dumps(correction_data(record)) == json.dumps(line)
    assert correction_from({"offer": 1}) is None
