"""The ladder's line and the order of the lists."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import timezone

from jobs import cautions
from jobs.day.bags import carry
from jobs.day.boxes import BAGS, DOWN, KINDS, SAFETY, TOOLS, pack_boxes
from jobs.day.lists import picks
from jobs.design.kit import highest_m, pack_kit
from jobs.design.practice import PRACTICE
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from pricing.book.price_book import book_for
from pricing.core.need import Need
from pricing.core.supply_keys import parse_key
from pricing.models import Price, Supply
from studio.access import Access
from studio.measure import Units
from tests.conftest import signed_in
from tests.factories import a_designed_job, a_document


@pytest.fixture(scope="module")
def worked() -> Worked:
    return work_out(design_from({**a_document("shop-tenth"), "room": {}}), units="metric")


def has_ladder(worked: Worked, reach_m: float) -> bool:
    practice = replace(PRACTICE, pole_reach_m=reach_m)
    kit = pack_kit(worked.design, worked.composition, worked.settled, practice)
    return "step ladder" in {item.name for item in kit}


def test_a_ladder_goes_along_where_work_is_above_the_reach(worked: Worked) -> None:
    top = highest_m(worked.design, worked.composition, worked.settled)
    assert not has_ladder(worked, top)
    assert has_ladder(worked, top - 0.001)
    practice = replace(PRACTICE, pole_reach_m=2.0)
    (ladder,) = [
        item for item in pack_kit(worked.design, worked.composition, worked.settled, practice)
        if item.name == "step ladder"
    ]  # fmt: skip
    assert (ladder.why, str(ladder.key), ladder.group) == (
        "work above 2.00 m",
        "tool/ladder",
        "safety",
    )


@pytest.mark.parametrize("ladder", [True, False])
@pytest.mark.parametrize("outdoors", [True, False])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_crew_are_told_of_ladders_and_wind_where_there_are_any(
    outdoors: bool, ladder: bool, units: Units
) -> None:
    told = cautions.for_crew(outdoors=outdoors, ladder=ladder, units=units)
    wind = cautions.wind(units)
    assert ("24 mph" in wind, "38 km/h" in wind) == (units == "imperial", units == "metric")
    assert (cautions.LADDER in told) is ladder
    assert (wind in told, cautions.RELEASE in told) == (outdoors, outdoors)
    assert {cautions.CHOKING, cautions.LATEX_CREW, cautions.EXITS, cautions.LIFT} <= set(told)
    assert (wind in cautions.for_client(outdoors=outdoors, units=units)) is outdoors


@pytest.mark.parametrize("name", ["shop-tenth", "gym-doors"])
def test_the_papers_speak_of_a_ladder_where_one_is_packed(access: Access, name: str) -> None:
    job = a_designed_job(access, name)
    made = work_out(design_from({**a_document(name), "room": {}}), units=access.units)
    packed = "step ladder" in {item.name for item in made.takeoff.kit}
    for which in ("packing", "build"):
        answer = signed_in(access).get(reverse("jobs:list-pdf", args=[job.number, which]))
        pages = pypdfium2.PdfDocument(answer.content)
        text = " ".join(" ".join(p.get_textpage().get_text_range() for p in pages).split())
        assert ("three points of contact" in text) is packed, which
    assert packed is (
        highest_m(made.design, made.composition, made.settled) > PRACTICE.pole_reach_m
    )


def test_the_pick_list_walks_along_the_shelves(access: Access) -> None:
    today = timezone.localdate()
    for key, shelf in (
        ("ribbon/a", "C3"),
        ("ribbon/b", "A1"),
        ("ribbon/c", "B2"),
        ("ribbon/d", "A1"),
    ):
        supply = access.add(Supply, key=key, name=key, unit="each", shelf=shelf)
        access.add(
            Price, supply=supply, valid_from=today, pack_count=Decimal(10), pack_price=Decimal(3)
        )
    needs = tuple(
        Need(key=parse_key(f"ribbon/{n}"), label=n, quantity=Decimal(5), unit="each", use=use)
        for n, use in (("a", "consumable"), ("b", "consumable"), ("x", "consumable"), ("d", "consumable"), ("c", "consumable"), ("h", "hire"))
    )  # fmt: skip
    lines = picks(needs, book_for(access, today))
    assert [(line.label, line.shelf) for line in lines] == [
        ("x", ""), ("b", "A1"), ("d", "A1"), ("c", "B2"), ("a", "C3"),
    ]  # fmt: skip
    assert (lines[0].packs, lines[0].pack_count, lines[0].left) == (None, None, 0)


@pytest.mark.parametrize(
    ("need", "spare", "packs", "left"),
    [("10", "0", 1, "0"), ("10", "1", 2, "9"), ("9", "1", 1, "0"), ("0", "0", 0, "0"), ("11", "0", 2, "9")],
)  # fmt: skip
def test_packs_are_whole_and_what_is_left_is_told(
    access: Access, need: str, spare: str, packs: int, left: str
) -> None:
    today = timezone.localdate()
    supply = access.add(Supply, key="stick/plain", name="stick")
    access.add(
        Price, supply=supply, valid_from=today, pack_count=Decimal(10), pack_price=Decimal(3)
    )
    wanted = Need(
        key=parse_key("stick/plain"),
        label="stick",
        quantity=Decimal(need),
        unit="each",
        spare=Decimal(spare),
    )
    (line,) = picks((wanted,), book_for(access, today))
    assert (line.packs, line.left) == (packs, Decimal(left))


def test_what_is_needed_last_goes_in_first(worked: Worked) -> None:
    """Common practice, no source."""
    packing = pack_boxes(worked.takeoff, carry(worked, 1.0), "metric")
    names = [group.name for group in packing.groups]
    assert names == [name for name in KINDS if name in names]  # the order of loading
    assert [group.number for group in packing.groups] == list(range(1, len(names) + 1))
    held = {group.name: [thing.what for thing in group.things] for group in packing.groups}
    assert held[DOWN] == ["pin on a handle", "bin bags"]
    assert "pin on a handle" not in held[TOOLS]
    assert {"first-aid kit", "work gloves"} <= set(held[SAFETY])
    assert names[0] == DOWN
    assert names[-1] == BAGS
    assert packing.groups[0].title == "1. For the take-down"
