"""Once is once: a form that makes something carries a key, and the same key makes one thing."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.core.exceptions import BadRequest
from django.db import IntegrityError, transaction
from django.http import HttpRequest

from studio.access import Access
from studio.models import SubmittedForm


def form_key_of(request: HttpRequest) -> uuid.UUID:
    """The key that the form carried. Raises BadRequest when it has none."""
    try:
        return uuid.UUID(request.POST.get("form_key", ""))
    except ValueError:
        raise BadRequest(
            "form_key: expected the form's own key, got none or something else."
        ) from None


def earlier_address(access: Access, request: HttpRequest) -> str:
    """Where an earlier press of the same form led; "" for the first one.

    For forms that take each name once: a second press would be told that its own name is taken.
    """
    if request.method != "POST" or not request.POST.get("form_key"):
        return ""
    earlier = access.rows(SubmittedForm).filter(key=form_key_of(request)).first()
    return earlier.leads_to if earlier else ""


def once(access: Access, key: uuid.UUID, make: Callable[[], str]) -> str:
    """Run `make` in one transaction with its key and return the address it leads to.

    A key that was pressed before, or is being pressed by another request at this moment, returns the
    first one's address; its `make` is not run again. When `make` raises, the key is free again.
    """
    try:
        with transaction.atomic():
            press = access.add(SubmittedForm, key=key)
            press.leads_to = make()
            press.save(update_fields=["leads_to"])
            return press.leads_to
    except IntegrityError:
        earlier = access.rows(SubmittedForm).filter(key=key).first()
        if earlier is None:  # the conflict was not ours to explain
            raise
        return earlier.leads_to
