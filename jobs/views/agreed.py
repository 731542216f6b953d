"""What pages of a job say of what was agreed, and the form that corrects it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jobs.forms.correction import CorrectionForm
from jobs.models import Job
from jobs.proposal.agreed import Locked, agreement_of

if TYPE_CHECKING:
    from studio.door import SeatedRequest


def agreed_of(request: SeatedRequest, job: Job, locked: Locked | None = None) -> dict[str, Any]:
    """`agreed` and the `correction` form for a template; nothing while nothing is agreed."""
    agreement = agreement_of(request.seat, job)
    if agreement is None:
        return {}
    form = CorrectionForm(request.POST if locked else None)
    if locked:
        form.refuse(locked)
    return {"agreed": agreement, "correction": form}
