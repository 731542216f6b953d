"""Who invoices whom, and what for: as the paper and the part for machines say it."""

from __future__ import annotations

from jobs.models import Acceptance, Client
from pricing.core.invoice import Party
from studio.countries import WHERE, country_of
from studio.models import Studio
from studio.tax_numbers import vat_id


class NoCountry(LookupError):
    """Nobody said which country the studio is in."""


def seller_of(studio: Studio) -> Party:
    """The studio. Raises NoCountry: a seller's country stands on every invoice (BR-09 of EN 16931)."""
    country = country_of(studio)
    if not country:
        raise NoCountry(f"An invoice needs the studio’s country, got none. {WHERE}")
    return Party(
        name=studio.name, address=studio.address, country=country, tax_number=studio.tax_number.strip(),
        vat_id=vat_id(studio.tax_number, country), mail=studio.mail,
    )  # fmt: skip


def buyer_of(client: Client, seller: Party) -> Party:
    """The client, in the seller's country where none was entered; no number without one of ours (BR-O-02)."""
    country = client.country or seller.country
    number = client.tax_number.strip() if seller.tax_number else ""
    return Party(
        name=client.name, address=client.address, country=country, tax_number=number,
        vat_id=vat_id(number, country),
    )  # fmt: skip


def sold_in(yes: Acceptance) -> str:
    """What was accepted: the proposal, its pieces, and the extras that were ticked."""
    pieces = [piece.name for piece in yes.design.pieces]
    words = f"Décor as in proposal {yes.offer.number}: {', '.join(pieces)}"
    if ticked := yes.agreed.ticked:
        words += f", with {', '.join(ticked)}"
    return "".join(sign for sign in words if sign.isprintable())[:300]
