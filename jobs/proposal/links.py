"""A client's way in: a link that nobody can guess, shown again to the studio, withdrawn by it.

When the site's secret changes, old links still open; they can no longer be shown.
"""

from __future__ import annotations

import hmac
from typing import TYPE_CHECKING

from django.core import signing
from django.db import transaction
from django.http import Http404
from django.utils import timezone

from jobs.log import write_log
from jobs.models import Client, ClientLink, Offer
from studio.access import system_access
from studio.tokens import derive, digest, new_salt

if TYPE_CHECKING:
    from studio.access import Access


def open_link(access: Access, offer: Offer) -> ClientLink:
    """Make a link for an offer."""
    salt = new_salt()
    return access.add(ClientLink, offer=offer, salt=salt, token_sha256=digest(derive(salt)))


def shown_again(link: ClientLink) -> str | None:
    """The token of a link, or None when the site's secret is another by now."""
    token = derive(link.salt)
    return token if hmac.compare_digest(digest(token), link.token_sha256) else None


def withdraw_offer_link(access: Access, offer: Offer) -> None:
    """No link of this offer opens any more."""
    access.rows(ClientLink).filter(offer=offer, withdrawn_at=None).update(
        withdrawn_at=timezone.now()
    )


def link_followed(token: str, *, only: tuple[str, ...] = ()) -> tuple[Access, Offer]:
    """The offer that a token opens, and the errand it runs for the studio. Raises Http404.

    `only` names the columns that are wanted, where the whole would be much more.
    """
    links = ClientLink.objects.select_related("offer__job__client", "offer__job__venue", "studio")
    if only:
        links = ClientLink.objects.select_related("offer__job", "studio").only(*only)
    link = links.filter(token_sha256=digest(token), withdrawn_at=None).first()
    if link is None:
        raise Http404("This link does not open anything. Ask the studio for a new one.")
    return system_access(link.studio), link.offer


def live_link(access: Access, offer: Offer) -> ClientLink | None:
    """The newest link of an offer that opens and can be shown."""
    links = access.rows(ClientLink).filter(offer=offer, withdrawn_at=None).order_by("-pk")
    return next((link for link in links if shown_again(link)), None)


def live_token(access: Access, offer: Offer) -> str | None:
    link = live_link(access, offer)
    return shown_again(link) if link else None


@transaction.atomic
def mark_opened(access: Access, offer: Offer, token: str) -> bool:
    """Write down that somebody opened a link, the first time; answers whether this was it."""
    link = access.rows(ClientLink).filter(token_sha256=digest(token), opened_at=None)
    if not link.update(opened_at=timezone.now()):
        return False
    write_log(access, offer.job, f"Proposal {offer.number} opened")
    return True


# One press ends reminders (RFC 8058). Signed, not kept: it does nothing else, and it never runs out.
def stop_signer() -> signing.Signer:
    return signing.Signer(salt="jobs.stop-reminders")


def stop_token(client: Client) -> str:
    return stop_signer().sign(str(client.pk))


def follow_stop(token: str) -> tuple[Access, Client]:
    """The client whose reminders a token ends. Raises Http404."""
    try:
        pk = stop_signer().unsign(token)
    except signing.BadSignature:
        raise Http404("This link does not stop anything.") from None
    client = Client.objects.select_related("studio").filter(pk=pk).first()
    if client is None:
        raise Http404("This link does not stop anything.")
    return system_access(client.studio), client
