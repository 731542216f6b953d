"""Tax numbers against the rules that countries have published, as the library python-stdnum keeps them. Pure.

A number is refused only where a rule is known and it breaks it; what no rule speaks of is taken as typed.
"""

from __future__ import annotations

import re
from importlib import import_module
from typing import Any, NamedTuple

from stdnum.eu import vat as eu_vat
from stdnum.exceptions import InvalidChecksum, InvalidLength, ValidationError

from studio.countries import country_named


class Rule(NamedTuple):
    """Numbers of this shape (without spaces, dots, strokes) claim to be of one of these kinds."""

    kinds: tuple[str, ...]
    shape: str = r".*"


# VAT of the European Union, and what else its countries let a small undertaking write on an invoice.
BESIDE_VAT = {
    "AT": ("at.tin",), "CZ": ("cz.rc",), "DE": ("de.stnr", "de.idnr"), "FI": ("fi.ytunnus", "fi.hetu"),
    "FR": ("fr.siren", "fr.siret"), "IE": ("ie.pps",), "IT": ("it.codicefiscale",), "SE": ("se.orgnr",),
}  # fmt: skip
OTHERS = {
    "AU": Rule(("au.abn",)),
    "BR": Rule(("br.cnpj", "br.cpf")),
    "CA": Rule(("ca.bn",), r"\d{9}(R[A-Z]\d{4})?"),  # provinces have numbers of their own
    "CH": Rule(("ch.vat", "ch.uid")),
    "GB": Rule(("gb.vat",)),
    "IN": Rule(("in_.gstin",)),
    "IS": Rule(("is_.vsk",)),
    "LI": Rule(("ch.vat", "ch.uid"), r"CHE.*"),
    "MX": Rule(("mx.rfc",)),
    "NO": Rule(("no.mva", "no.orgnr")),
    "NZ": Rule(("nz.ird",)),
    "US": Rule(("us.tin",), r"\d{2}-\d*|\d{9}"),  # states have permits of their own: taken as typed
}
EU = {"GR" if member == "gr" else member.upper() for member in eu_vat.MEMBER_STATES} - {"XI"}
PREFIX = {"GR": "EL"}  # VAT numbers of Greece begin otherwise than its country code
EIN = re.compile(r"\d{2}-\d*")  # an employer's number, by its hyphen


class TaxNumberError(ValueError):
    """What is wrong with a tax number, as the end of a sentence."""


def check_tax_number(typed: str, country: str) -> None:
    """Raise TaxNumberError where a number breaks the published rules of its country ("" none known)."""
    number = compact(typed)
    kinds = _kinds(typed, number, country)
    if not number or not kinds:
        return
    faults = [fault for kind in kinds if (fault := _fault(kind, number, country))]
    if len(faults) < len(kinds):
        return
    raise TaxNumberError(_words(faults[0], typed, number, country))


def vat_id(typed: str, country: str) -> str:
    """A VAT number with its country before it, as BR-CO-09 of EN 16931 wants it; "" where it is no such number.

    >>> vat_id("980 7806 84", "GB"), vat_id("12-3456789", "US")
    ('GB980780684', '')
    """
    number, prefix = compact(typed), PREFIX.get(country, country)
    beside = any(not _fault(kind, number, country) for kind in BESIDE_VAT.get(country, ()))
    if not number or (beside and _fault("eu.vat", number, country)):
        return ""
    if number[:2] in {country, *(PREFIX.get(c, c) for c in (*EU, "GB", "XI"))} and country:
        return number
    return prefix + number if country in EU or country == "GB" else ""


def compact(typed: str) -> str:
    """Without spaces, dots, commas, hyphens and strokes, in capitals."""
    return re.sub(r"[\s.,\-–/]", "", typed).upper()


def _kinds(typed: str, number: str, country: str) -> tuple[str, ...]:
    if country in EU:
        return ("eu.vat", *BESIDE_VAT.get(country, ()))
    rule = OTHERS.get(country)
    if rule is None or not re.fullmatch(rule.shape, number if country != "US" else typed.strip()):
        return ()
    return ("us.ein",) if country == "US" and EIN.fullmatch(typed.strip()) else rule.kinds


def _fault(kind: str, number: str, country: str) -> ValidationError | None:
    if kind == "eu.vat" and not number.startswith(PREFIX.get(country, country)):
        number = PREFIX.get(country, country) + number
    module: Any = import_module(f"stdnum.{kind}")
    try:
        module.validate(number)
    except ValidationError as fault:
        return fault
    return None


def _words(fault: ValidationError, typed: str, number: str, country: str) -> str:
    """What was expected and what came; a number of another country of the Union is called that."""
    other = next((c for c in EU if PREFIX.get(c, c) == number[:2]), "")
    if other and other != country and not _fault("eu.vat", number, other):
        return (
            f"expected one of {country_named(country)}, got “{typed}”, which is one of {country_named(other)}. "
            f"If that is right, enter {other} as the country."
        )
    why = {
        InvalidLength: "it has too few or too many characters",
        InvalidChecksum: "its check digits do not fit, so one of them is mistyped",
    }.get(type(fault), "it is not built like one")
    return f"expected one of {country_named(country)}, got “{typed}”: {why}."
