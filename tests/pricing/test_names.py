"""People read names; keys are for the machine."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any

from django.test import Client as Browser
from django.urls import reverse
from hypothesis import given, settings

from jobs.design.working import work_out
from pricing.book.starter_sets import SUPPLIES
from pricing.core.names import supply_key, supply_name
from pricing.models import KitItem
from pricing.stores.stock import put_in_stock
from studio.access import Access
from tests.depth import examples
from tests.strategies import designs

KEYS = re.compile(
    r"\b(?:balloon|ribbon|greenery|stem|tie|fastener|tape|line|gas|weight|stick|frame|tool)/"
)


@given(designs())
@settings(max_examples=examples(30), deadline=None)
def test_a_supply_is_called_what_the_take_off_calls_it(design: Any) -> None:
    for need in work_out(design).takeoff.needs:
        if need.use == "consumable":
            assert need.label.startswith(supply_name(need.key)), need


@given(designs())
@settings(max_examples=examples(30), deadline=None)
def test_a_name_leads_back_to_its_key(design: Any) -> None:
    needs = [need for need in work_out(design).takeoff.needs if need.use == "consumable"]
    known = [need.key for need in needs]
    for key in known:
        assert supply_key(supply_name(key).upper(), known) == key
        if key.kind in ("balloon", "ribbon", "greenery", "stem"):
            assert supply_key(supply_name(key)) == key  # of a colour that nobody has yet


def test_no_starter_supply_keeps_its_key_as_its_name() -> None:
    for key, *_ in SUPPLIES:
        assert not KEYS.search(supply_name(key)), key


def test_shelves_and_count_sheet_show_names(browser: Browser, access: Access) -> None:
    put_in_stock(access, "balloon/11 in/rose", Decimal(40), on=date(2020, 1, 1), shelf="A2")
    put_in_stock(access, "tie/260", Decimal(4), on=date(2026, 6, 1), shelf="A5")
    for name in ("pricing:stock", "pricing:count"):
        page = browser.get(reverse(name)).content.decode()
        assert "11 in balloon, rose" in page
        lists = " ".join(re.findall(r"<(?:table|ol|ul)\b.*?</(?:table|ol|ul)>", page, re.DOTALL))
        shown = re.sub(
            r'(?:value|name)="[^"]*"', "", lists
        )  # forms carry keys, people do not see them
        assert not KEYS.search(shown), KEYS.findall(shown)


def test_a_clash_names_the_kit(browser: Browser, access: Access) -> None:
    from pricing.stores.kit import KitShort

    access.add(KitItem, key="frame/ring", name="ring frame", mark="no. 1")
    clash = KitShort(
        key="frame/ring",
        wanted=1,
        free=0,
        owned=1,
        held_by=("Harvest",),
        holders=(),
        instead=(),
    )
    assert clash.sentence == "ring frame: 1 wanted, 0 free; promised to Harvest."
