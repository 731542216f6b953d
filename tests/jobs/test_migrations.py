"""Data migrations: rows as they were before, and as they are after; both ways."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from django.apps import apps
from django.db import connection

from jobs.models import Job
from studio.access import Access
from tests.factories import JobFactory
from tests.jobs.test_cancelling import an_accepted_job

ACCEPTED: Any = import_module("jobs.migrations.0012_jobs_with_a_yes_are_accepted")


class Editor:
    connection = connection


def stage(job: Job) -> str:
    return Job.objects.get(pk=job.pk).stage


def test_jobs_with_a_yes_and_no_deposit_become_accepted_and_go_back(access: Access) -> None:
    yes, reopened, booked = (an_accepted_job(access) for _ in range(3))
    bare = JobFactory.create(studio=access.studio, stage="offered")
    for job, was in ((yes, "offered"), (reopened, "enquiry"), (booked, "booked")):
        Job.objects.filter(pk=job.pk).update(stage=was)
    ACCEPTED.say_accepted(apps, Editor)
    stages = [stage(job) for job in (yes, reopened, booked, bare)]
    assert stages == ["accepted", "accepted", "booked", "offered"]
    ACCEPTED.say_offered(apps, Editor)
    stages = [stage(job) for job in (yes, reopened, booked, bare)]
    assert stages == ["offered", "offered", "booked", "offered"]
