"""Saving the terms of a job's price."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.models import Job
from jobs.proposal.agreed import job_terms, permit_change
from jobs.proposal.correcting import correct_terms
from studio.editing import VersionedForm, save_if_fresh

if TYPE_CHECKING:
    from studio.access import Access


@transaction.atomic
def save_terms(access: Access, job: Job, form: VersionedForm, why: str = "") -> None:
    """Save the terms of a valid form; what was agreed is corrected with a reason. `job` is as it stood before.

    Raises Stale when somebody saved in between, Locked where a reason is wanted; then nothing is saved.
    """
    before = job_terms(job)
    changes = job_terms(form.instance) != before
    agreement = permit_change(access, job, why) if changes else None
    save_if_fresh(form)
    if agreement:
        correct_terms(access, form.instance, agreement, why, before)
