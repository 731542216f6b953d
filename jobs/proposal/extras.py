"""What the client may have or leave of an alternative, as it is kept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.design.options import Option
from jobs.models import JobDesign
from jobs.proposal.agreed import Locked, agreement_of

if TYPE_CHECKING:
    from studio.access import Access


@transaction.atomic
def keep_options(access: Access, row: JobDesign, options: Sequence[Option]) -> None:
    """Keep them with the alternative. Raises Locked after the yes: what was ticked is part of the design then."""
    access.lock_studio()
    if agreement := agreement_of(access, row.job):
        raise Locked(
            f"Proposal {agreement.number} was accepted: what was ticked is part of the design now, and nothing "
            "is offered any more. Correct the design instead."
        )
    told = [option.model_dump(mode="json") for option in options]
    access.rows(JobDesign).filter(pk=row.pk).update(options=told)
