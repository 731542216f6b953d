"""Totals and tax against the published examples of EN 16931.

Source: ConnectingEurope/eInvoicing-EN16931 1.3.16 (EUPL-1.2), UBL examples; rules BR-CO-10 to 17.
"""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, tax_inside, work_out_totals


def money(text: str, currency: str = "EUR") -> Money:
    return Money(Decimal(text), currency)


def group(percent: str, code: str = "S") -> TaxGroup:
    return TaxGroup(code=code, name="tax", percent=Decimal(percent))


EXAMPLES: list[tuple[str, dict[str, Any], dict[str, str], list[str]]] = [
    (
        "ubl-tc434-example1",
        {"lines": [("183.23", "6"), ("46.37", "21")]},
        {"net": "229.60", "tax": "20.73", "total": "250.33", "due": "250.33"},
        ["10.99", "9.74"],
    ),
    (
        "example2 (NOK)",
        {
            "lines": [("1460.50", "25"), ("1.00", "15"), ("-25.00", "0")],
            "allowances": [("100", "25")], "charges": [("100", "25")], "prepaid": "1000",
        },
        {"net": "1436.50", "tax": "365.28", "total": "1801.78", "due": "801.78"},
        ["365.13", "0.15", "0"],
    ),
    (
        "example5 (DKK)",
        {
            "lines": [("1500", "25"), ("2500", "12")], "allowances": [("150", "25")], "charges": [("150", "25")],
            "prepaid": "2337.50",
        },
        {"net": "4000", "tax": "675.00", "total": "4675.00", "due": "2337.50"},
        ["375", "300"],
    ),
    ("sample-discount-price", {"lines": [("12.12", "25")]}, {"tax": "3.03", "total": "15.15"}, ["3.03"]),
    (
        "base example with a negative line",
        {"lines": [("1325", "25"), ("-25", "25")], "charges": [("25", "25")]},
        {"net": "1325", "tax": "331.25", "total": "1656.25", "due": "1656.25"},
        ["331.25"],
    ),
    (
        "two rates",
        {"lines": [("5000", "25"), ("1900", "15")], "allowances": [("100", "15")], "charges": [("200", "15")]},
        {"net": "7000", "tax": "1550", "total": "8550"},
        ["1250", "300"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "given_", "totals", "taxes"), EXAMPLES, ids=[e[0] for e in EXAMPLES]
)
def test_a_published_example_comes_out_exactly(
    name: str, given_: dict[str, Any], totals: dict[str, str], taxes: list[str]
) -> None:
    amounts = {
        part: [(money(a), group(p)) for a, p in given_.get(part, ())]
        for part in ("lines", "allowances", "charges")
    }
    prepaid = money(given_["prepaid"]) if "prepaid" in given_ else None
    found = work_out_totals(amounts.pop("lines"), currency="EUR", prepaid=prepaid, **amounts)
    for field, amount in totals.items():
        assert getattr(found, field) == money(amount), field
    assert [line.tax for line in found.groups] == [money(t) for t in taxes]


def test_rounding_by_line_or_by_document_is_a_choice() -> None:
    # 3 × 4.37 at 20 %: HMRC Notice 700 §17.5, EU C-484/06 and SSUTA §324 leave the choice.
    lines = [(money("4.37"), group("20"))] * 3
    assert work_out_totals(lines, currency="EUR", rounding="line").tax == money("2.61")
    assert work_out_totals(lines, currency="EUR", rounding="document").tax == money("2.62")


@pytest.mark.parametrize(
    ("gross", "percent", "tax", "net"),
    [("99.99", "20", "16.67", "83.32"), ("250", "21", "43.39", "206.61")],
)
def test_tax_inside_a_price(gross: str, percent: str, tax: str, net: str) -> None:
    # Arithmetic of the inclusive rate, p/(100 + p).
    assert tax_inside(money(gross), Decimal(percent)) == (money(net), money(tax))


amounts = st.decimals(-9999, 9999, places=2)


@given(st.lists(st.tuples(amounts, st.sampled_from(["0", "5", "12.5", "20", "25"])), max_size=8))
def test_groups_add_up_to_the_totals(lines: list[tuple[Decimal, str]]) -> None:
    found = work_out_totals([(Money(a, "EUR"), group(p)) for a, p in lines], currency="EUR")
    assert add_up((line.net for line in found.groups), "EUR") == found.net
    assert add_up((line.tax for line in found.groups), "EUR") == found.tax
    assert found.net + found.tax == found.total == found.due
