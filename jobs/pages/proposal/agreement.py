"""What pages of a job say of what was agreed, and the form that corrects it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jobs.models import Job
from jobs.pages.proposal.correction_form import CorrectionForm
from jobs.proposal.agreed import Locked, agreement_of

if TYPE_CHECKING:
    from studio.access import AccessRequest


def agreed_of(request: AccessRequest, job: Job, locked: Locked | None = None) -> dict[str, Any]:
    """`agreed` and the `correction` form for a template; nothing while nothing is agreed."""
    agreement = agreement_of(request.access, job)
    if agreement is None:
        return {}
    form = CorrectionForm(request.POST if locked else None)
    if locked:
        form.refuse(locked)
    return {"agreed": agreement, "correction": form}
