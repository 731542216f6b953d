"""A client's way in: a token nobody can guess, of which only a hash is kept.

The token is derived from a random salt and the site's secret, so that the studio can show it again while the
database alone never gives it away. When the secret changes, old links still open; they can no longer be shown.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from typing import TYPE_CHECKING

from django.conf import settings
from django.http import Http404
from django.utils import timezone

from jobs.models import ClientLink, Offer
from studio.door import errand_for

if TYPE_CHECKING:
    from studio.door import SeatAt


def derive(salt: str) -> str:
    """256 bits, address-safe."""
    key = b"client link:" + settings.SECRET_KEY.encode()
    raw = hmac.new(key, salt.encode(), hashlib.sha256).digest()
    return base64.urlsafe_b64encode(raw).decode().rstrip("=")


def digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def open_link(seat: SeatAt, offer: Offer) -> str:
    """Make a link for an offer and return its token."""
    salt = secrets.token_urlsafe(32)
    token = derive(salt)
    seat.add(ClientLink, offer=offer, salt=salt, token_sha256=digest(token))
    return token


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
