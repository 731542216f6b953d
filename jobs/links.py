"""A client's way in: a link that nobody can guess, shown again to the studio, withdrawn by it.

When the site's secret changes, old links still open; they can no longer be shown.
"""

from __future__ import annotations

import hmac
from typing import TYPE_CHECKING

from django.http import Http404
from django.utils import timezone

from jobs.models import ClientLink, Offer
from studio.door import errand_for
from studio.tokens import derive, digest, new_salt

if TYPE_CHECKING:
    from studio.door import SeatAt


def open_link(seat: SeatAt, offer: Offer) -> ClientLink:
    """Make a link for an offer."""
    salt = new_salt()
    return seat.add(ClientLink, offer=offer, salt=salt, token_sha256=digest(derive(salt)))


def shown_again(link: ClientLink) -> str | None:
    """The token of a link, or None when the site's secret is another by now."""
    token = derive(link.salt)
    return token if hmac.compare_digest(digest(token), link.token_sha256) else None


def withdraw(seat: SeatAt, offer: Offer) -> None:
    """No link of this offer opens any more."""
    seat.rows(ClientLink).filter(offer=offer, withdrawn_at=None).update(withdrawn_at=timezone.now())


def follow(token: str) -> tuple[SeatAt, Offer]:
    """The offer that a token opens, and the errand it runs for the studio. Raises Http404."""
    link = (
        ClientLink.objects.select_related("offer__job__client", "offer__job__venue", "studio")
        .filter(token_sha256=digest(token), withdrawn_at=None)
        .first()
    )
    if link is None:
        raise Http404("This link does not open anything. Ask the studio for a new one.")
    return errand_for(link.studio), link.offer
