"""Tax numbers against published rules; the worked numbers are those that each rule's own documents carry."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.access import Access
from studio.countries import country_of
from studio.models import Studio
from studio.tax_numbers import TaxNumberError, check_tax_number, vat_id
from tests.studio.test_pages import facts

SOUND = [
    # Check digits worked by hand below from the published rules; the library is not asked.
    ("GB", "GB 980 7806 84"),  # 97 less the weighted sum modulo 97 (HMRC’s rule)
    ("GB", "980780684"),
    ("IE", "IE 6433435F"),  # Revenue: weights 8 to 2, modulo 23
    ("US", "91-1144442"),  # IRS: the first two digits are a campus or the internet's
    ("AU", "83 914 571 673"),  # ATO: weights 10, 1, 3, 5, … 19 after 1 is taken off, modulo 89
    ("CA", "123026635 RC 0001"),  # Luhn
    ("DE", "181/815/08155"),  # a Steuernummer, which § 14 UStG allows beside the USt-IdNr
    ("GR", "EL 094259216"),
    # No rule is known: taken as typed.
    ("US", "32012345678"),  # a permit of a state
    ("CA", "PST-1234-5678"),
    ("ZA", "4012345678"),
    ("", "whatever 1"),
    ("KE", "P000000000A"),
]


@pytest.mark.parametrize(("country", "number"), SOUND)
def test_a_number_that_keeps_the_rules_is_taken(country: str, number: str) -> None:
    check_tax_number(number, country)


def test_the_british_check_digits_are_those_of_the_published_rule() -> None:
    """Seven digits by 8 to 2, 97 taken off until below zero: the last two digits (HMRC, VAT number check)."""
    for seven in ("9807806", "1234567", "7654321"):
        rest = sum(int(d) * w for d, w in zip(seven, range(8, 1, -1), strict=True)) % 97
        check_tax_number(f"GB{seven}{97 - rest:02d}", "GB")
        with pytest.raises(TaxNumberError, match="check digits do not fit"):
            check_tax_number(f"GB{seven}{(97 - rest + 1) % 97:02d}", "GB")


@pytest.mark.parametrize(
    ("country", "number", "says"),
    [
        ("GB", "GB 980 7806 85", "one of them is mistyped"),
        ("GB", "GB12", "too few or too many"),
        ("DE", "DE136695977", "expected one of Germany, got “DE136695977”"),
        ("US", "00-1144442", "expected one of United States"),
        ("US", "12-345", "expected one of United States"),
        ("AU", "83 914 571 674", "check digits do not fit"),
        ("GB", "DE136695976", "which is one of Germany. If that is right, enter DE as the country."),
    ],
)  # fmt: skip
def test_a_number_that_breaks_them_gets_a_sentence(country: str, number: str, says: str) -> None:
    with pytest.raises(TaxNumberError, match=says):
        check_tax_number(number, country)


@pytest.mark.parametrize(
    ("country", "typed", "machine"),
    [
        # BR-CO-09 of EN 16931: the country stands before the number; Greece may write EL.
        ("GB", "980 7806 84", "GB980780684"),
        ("GR", "094259216", "EL094259216"),
        ("DE", "DE 136 695 976", "DE136695976"),
        ("DE", "181/815/08155", ""),  # no VAT number
        ("US", "91-1144442", ""),
        ("NO", "NO 995 525 828 MVA", "NO995525828MVA"),
    ],
)
def test_machines_are_told_vat_numbers_with_their_country(
    country: str, typed: str, machine: str
) -> None:
    assert vat_id(typed, country) == machine


@pytest.mark.parametrize(
    ("language", "country", "found"),
    [("en-GB", "", "GB"), ("en-GB", "IE", "IE"), ("zh-Hans-CN", "", "CN"), ("en", "", ""), ("fr", "", ""),
     ("es-419", "", ""), ("fr", "BE", "BE")],
)  # fmt: skip
def test_a_language_without_a_country_is_no_country(
    language: str, country: str, found: str
) -> None:
    assert country_of(Studio(language=language, country=country)) == found


def test_the_studio_is_told_beside_the_field(browser: Client, access: Access) -> None:
    answer = browser.post(
        reverse("studio:facts"), facts(access.studio, country="GB", tax_number="GB 980 7806 85")
    )
    assert answer.status_code == 422
    assert "its check digits do not fit" in answer.context["form"].errors["tax_number"][0]
    sound = facts(access.studio, country="GB", tax_number="GB 980 7806 84")
    assert browser.post(reverse("studio:facts"), sound).status_code == 302
