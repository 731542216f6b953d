"""How one version of a proposal stands to the others: whether there is a newer one, and what changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from babel.dates import format_date

from jobs.models import Offer
from jobs.models.offer import offer_number
from jobs.proposal.changes import FrozenWay, Version, Writing, changes_between, version_of
from jobs.proposal.links import live_token
from pricing.core.money import write_money

if TYPE_CHECKING:
    from studio.access import Access


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What a client should know beside the version they look at."""

    newer: str  # the number of the newest version where this is not it; "" otherwise
    token: str  # opens it; "" where no link is open
    since: int  # the version it is held against
    until: int
    changes: tuple[str, ...]


def news_since(access: Access, offer: Offer) -> News | None:
    """A superseded version against the newest, the newest against the one before; None where there is but one."""
    rows = access.rows(Offer).filter(job=offer.job)
    versions = sorted(rows.values_list("version", flat=True))
    if len(versions) == 1:
        return None
    newest = offer.version == versions[-1]
    other = rows.defer("article", "pdf").get(version=versions[-2] if newest else versions[-1])
    before, after = (other, offer) if newest else (offer, other)
    return News(
        newer="" if newest else offer_number(offer.job.number, other.version),
        token="" if newest else live_token(access, other) or "",
        since=before.version, until=after.version, changes=compared_versions(access, before, after),
    )  # fmt: skip


def compared_versions(access: Access, before: Offer, after: Offer) -> tuple[str, ...]:
    """What changed from one version to another, as the studio writes."""
    language = access.studio.language
    write = Writing(
        money=lambda money: write_money(money, language),
        day=lambda day: str(format_date(day, "long", locale=language.replace("-", "_"))),
    )
    return changes_between(frozen_version(before), frozen_version(after), write)


def frozen_version(offer: Offer) -> Version:
    ways = [
        FrozenWay(
            choice=way, design=offer.design_of(way.letter), contents=offer.contents_of(way.letter)
        )
        for way in offer.alternatives
    ]
    return version_of(offer.version, ways, offer.event)
