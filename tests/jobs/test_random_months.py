"""Random months of a studio: whatever three people do to their jobs, no two surfaces disagree.

Enquiries for two kits (one ring, one arch frame), proposals, yeses, payments, credits, moves, cancellations, what is
held and let go, the days going by, jobs closed. Owner and office do the paperwork, crew set up and take down.
"""

from __future__ import annotations

import uuid
from contextlib import suppress
from datetime import timedelta
from typing import Any, ClassVar

import pytest
import time_machine
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from hypothesis.stateful import run_state_machine_as_test as run

from jobs.day.holding import CannotHold, hold_anew, keep_holding, stop_holding
from jobs.models import Job, Offer
from jobs.proposal.accepting import CannotAccept
from jobs.proposal.choices import CannotOffer
from jobs.records import record_faults
from pricing.models import KitBooking, KitItem
from pricing.stores import kit
from studio.access import Access
from tests.conftest import signed_in
from tests.depth import examples
from tests.factories import VenueFactory, a_designed_job, a_stocked_access, an_access
from tests.happenings import REFUSED, do, said_yes, sent
from tests.surfaces import disagreements_of_all, fresh, papers_as_html
from tests.surfaces_of_day import disagreements_of_day, held_twice

CREW_SEES = ("jobs:brief", "jobs:design", "jobs:build", "jobs:packing", "jobs:after")
DESIGNS = ("shop-tenth", "lakeside", "gym-doors")
MONEY = (
    "pay",
    "pay",
    "pay",
    "refund",
    "bounce",
    "put right",
    "invoice",
    "credit",
    "credit all",
    "move",
    "call off",
)
ON = {"booked": "ready", "ready": "up", "up": "down", "down": "closed"}
WHICH = st.integers(0, 99)


class Months(RuleBasedStateMachine):
    """One studio from a quiet first day; everything is undone at the end."""

    owner: ClassVar[Access]
    office: ClassVar[Access]
    crew: ClassVar[Access]
    clock: ClassVar[time_machine.Coordinates]
    begin: ClassVar[Any]

    def __init__(self) -> None:
        super().__init__()
        self.clock.move_to(self.begin)
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.turn = 0

    def paperwork(self) -> Access:
        """Owner and office take turns; a second goes by."""
        self.clock.shift(timedelta(seconds=1))
        self.turn += 1
        return self.owner if self.turn % 2 else self.office

    def one(self, which: int, *stages: str) -> Job | None:
        """A job that has come so far."""
        jobs = self.owner.rows(Job).order_by("pk")
        found = list(jobs.filter(stage__in=stages) if stages else jobs)
        return fresh(self.owner, found[which % len(found)]) if found else None

    @initialize(first=st.sampled_from(DESIGNS), second=st.sampled_from(DESIGNS))
    def two_booked_jobs_to_begin_with(self, first: str, second: str) -> None:
        """A month has booked jobs in it; without them most steps would find nothing to do."""
        for design, days in ((first, 12), (second, 40)):
            self.enquiry(design=design, days=days, hour=14)
            job = fresh(self.owner, self.owner.rows(Job).latest("pk"))
            with suppress(CannotAccept):
                said_yes(self.owner, sent(self.owner, job))
                do(self.owner, fresh(self.owner, job), "pay", 60, self.clock)

    @rule(design=st.sampled_from(DESIGNS), days=st.integers(3, 70), hour=st.integers(8, 20))
    def enquiry(self, design: str, days: int, hour: int) -> None:
        start = (timezone.localtime() + timedelta(days=days)).replace(hour=hour, minute=0, second=0, microsecond=0)  # fmt: skip
        hall = VenueFactory.create(studio=self.owner.studio, ceiling_m=4, door_width_m=2)
        a_designed_job(
            self.owner, design, venue=hall, number=self.owner.rows(Job).count() + 1,
            event_start=start, event_end=start + timedelta(hours=5),
        )  # fmt: skip

    @rule(which=WHICH)
    def proposal(self, which: int) -> None:
        if job := self.one(which, "enquiry", "priced", "offered"):
            with suppress(CannotOffer):
                sent(self.paperwork(), job)

    @rule(which=WHICH)
    def yes(self, which: int) -> None:
        if job := self.one(which, "offered"):
            offer = Offer.objects.filter(job=job).latest("version")
            with suppress(CannotAccept):
                said_yes(self.paperwork(), offer)

    @rule(which=WHICH, what=st.sampled_from(MONEY), n=st.integers(1, 100))
    def money_or_day(self, which: int, what: str, n: int) -> None:
        if job := self.one(
            which, "accepted", "booked", "ready", "up", "down", "closed", "called_off"
        ):
            with suppress(*REFUSED), transaction.atomic():
                do(self.paperwork(), job, what, n, self.clock)

    @rule(which=WHICH, what=st.sampled_from((hold_anew, keep_holding)))
    def held(self, which: int, what: Any) -> None:
        if job := self.one(which):
            with suppress(CannotHold):
                what(self.paperwork(), job, on=timezone.localdate())

    @rule(which=WHICH)
    def let_go(self, which: int) -> None:
        if job := self.one(which):
            with suppress(CannotHold):
                stop_holding(self.paperwork(), job)

    @rule(which=WHICH)
    def onward(self, which: int) -> None:
        """The next step of the day by a press: crew's where crew may."""
        if job := self.one(which, *ON):
            who = self.crew if ON[job.stage] in ("ready", "up", "down") else self.paperwork()
            self.press(who, job, ON[job.stage])

    @rule(
        which=WHICH, to=st.sampled_from(("lapsed", "declined", "enquiry", "booked", "ready", "up"))
    )
    def aside(self, which: int, to: str) -> None:
        """Any other move; most are refused, and then nothing has changed."""
        if job := self.one(which):
            self.press(self.paperwork(), job, to)

    def press(self, who: Access, job: Job, to: str) -> None:
        told = {"to": to, "sure": to, "form_key": str(uuid.uuid4())}
        answer = signed_in(who).post(reverse("jobs:stage", args=[job.number]), told)
        assert answer.status_code in (200, 302, 422), answer.status_code

    def out(self) -> list[KitBooking]:
        """What has left the shop."""
        open_ = self.owner.rows(KitBooking).filter(returned_at=None, out_from__lte=timezone.now())
        return list(open_.order_by("pk"))

    @rule(which=WHICH)
    @precondition(lambda self: self.out())
    def back(self, which: int) -> None:
        rows = self.out()
        kit.check_in(
            self.crew, rows[which % len(rows)], at=timezone.now(), kind="condition", what=""
        )

    @rule(days=st.integers(1, 9))
    def days_go_by(self, days: int) -> None:
        self.clock.shift(timedelta(days=days))

    def teardown(self) -> None:
        try:
            self.all_say_the_same()
        finally:
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)

    def all_say_the_same(self) -> None:
        """Every beginning of these months is one of them too, so that one look at the end is enough."""
        jobs = list(self.owner.rows(Job).order_by("pk"))
        assert disagreements_of_all(self.owner) == []
        assert [one for job in jobs for one in disagreements_of_day(self.owner, job)] == []
        assert held_twice(self.owner) == []
        assert list(record_faults(self.owner)) == []
        phone = signed_in(self.crew)
        for address in [
            reverse("jobs:today"),
            *(reverse(n, args=[j.number]) for j in jobs for n in CREW_SEES),
        ]:
            assert "£" not in phone.get(address).content.decode(), address


@pytest.mark.django_db
def test_no_two_surfaces_disagree_whatever_a_month_brings() -> None:
    begin = timezone.now().replace(hour=12, minute=0, second=0, microsecond=0)
    with papers_as_html(), time_machine.travel(begin) as clock:
        owner = a_stocked_access(tax_number="GB 980 7806 84")
        Months.owner, Months.clock, Months.begin = owner, clock, begin
        Months.office, Months.crew = (
            an_access("office", owner.studio),
            an_access("crew", owner.studio),
        )
        for key, name in (("frame/ring", "ring"), ("frame/arch", "arch frame")):
            owner.add(KitItem, key=key, name=name)
        for mark in "123":
            owner.add(KitItem, key="weight/ballast", name="ballast", mark=mark)
        checks = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
        run(
            Months,
            settings=settings(
                max_examples=examples(12), stateful_step_count=25, suppress_health_check=checks
            ),
        )
