"""A design as it is looked at, and kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from jobs.day.reserving import promise_all
from jobs.design.differing import is_same
from jobs.design.document import Design
from jobs.design.picture import draw
from jobs.design.picture_handles import draw_handles
from jobs.design.picture_plane import View
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from jobs.inputs import chosen_row, design_text, practice_of, quote_for, without_room
from jobs.log import write_log
from jobs.models import Job, JobDesign, LogEntry, RoomPhoto
from jobs.photos import behind
from jobs.proposal.agreed import permit_change
from jobs.proposal.correcting import correct_design
from pricing.book.price_book import NoRates, book_for
from pricing.models import Reservation
from studio.editing import Difference, Stale
from studio.permissions import Permission

if TYPE_CHECKING:
    from pricing.core.quote import Quote
    from studio.access import Access


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPreview:
    """What stands beside the form: the picture, the counts, and the price for those who may see it."""

    worked: Worked
    svg: str
    quote: Quote | None
    fault: str = ""  # why there is no price

    @property
    def minutes(self) -> dict[str, Decimal]:
        """Minutes by place."""
        work = self.worked.takeoff.labour
        return {
            place: sum((w.minutes for w in work if w.place == place), Decimal(0))
            for place in ("workshop", "site")
        }


def preview_design(
    access: Access,
    job: Job,
    design: Design,
    *,
    on: date,
    pictured: bool = True,
    view: View = "front",
    names: Mapping[str, str] | None = None,
) -> DesignPreview:
    """Work a design out in the job's room. With `names` of its fields the picture can be taken hold of."""
    placed = design.model_copy(update={"room": job.venue.room(), "title": job.title})
    book, quote, fault = None, None, ""
    if access.may(Permission.SEE_PRICES):
        try:
            book = book_for(access, on)
        except NoRates as reason:
            fault = str(reason)
    worked = work_out(
        placed, units=access.units, practice=practice_of(access), sold=book.knows if book else None
    )
    if book:
        try:
            quote = quote_for(access, job, worked, on=on, book=book)
        except ValueError as reason:
            fault = str(reason)
    svg = _picture(access, job, worked, view, names) if pictured else ""
    return DesignPreview(worked=worked, svg=svg, quote=quote, fault=fault)


def _picture(
    access: Access, job: Job, worked: Worked, view: View, names: Mapping[str, str] | None
) -> str:
    if view != "front":
        return draw(worked, units=access.units, view=view)
    photo = access.rows(RoomPhoto).filter(job=job).defer("jpeg").first()
    under = behind(photo, reverse("jobs:photo-jpeg", args=[job.number]))
    if names is None:
        return draw(worked, units=access.units, under=under)
    over = draw_handles(worked, names, access.units)
    return draw(worked, units=access.units, shown="live", under=under, over=over)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenDesign:
    """What a save was made from.

    An answer that is lost leaves a page behind by a version of its own. So a page with scripts says who it is:
    what it saved itself it may save over, and its saves count in the order in which they were sent.
    """

    version: int = 0  # 0: none yet
    hand: str = ""  # the page, by a word of its own; "" without scripts
    step: int = 0  # which save of that page

    def is_late(self, row: JobDesign) -> bool:
        """Whether a later save of the same page arrived before this one."""
        return self.is_behind(row) and self.step <= row.step

    def is_behind(self, row: JobDesign) -> bool:
        """Whether what stands is what this page saved itself."""
        return bool(self.hand) and self.hand == row.hand


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedDesign:
    """What became of a save."""

    version: int  # that stands now
    followed: str = ""  # after a correction: what followed it, as sentences
    corrected: bool = False


@transaction.atomic
def save_design(
    access: Access, job: Job, design: Design, seen: SeenDesign, letter: str = "", *,
    quietly: bool = False, why: str = "",
) -> SavedDesign:  # fmt: skip
    """Save a design over what its page had seen. What is drawn as it was stays as it is, with its version.

    Raises Stale, with what differs, when somebody saved in between, and Locked where it was agreed with the
    client and `why` gives no reason to correct it. `quietly` is for saving by itself: a spell of work leaves
    one line in the log, not one for every pause.
    """
    access.lock_studio()
    document = design_text(without_room(design))
    if seen.version == 0 and _is_first(access, job, document, letter or "A", seen):
        write_log(access, job, "First design saved")
        return SavedDesign(version=1)
    row = chosen_row(access, job, letter)
    if row is None:
        raise Stale(document_differences(None, document))
    if seen.is_late(row):
        return SavedDesign(version=row.version)
    if is_same(without_room(design_from(row.document)), without_room(design)):
        if seen.version == row.version or seen.is_behind(row):
            access.rows(JobDesign).filter(pk=row.pk).update(hand=seen.hand, step=seen.step)
        return SavedDesign(version=row.version)
    agreement = permit_change(access, job, why) if row.chosen else None
    if seen.version != row.version and not seen.is_behind(row):
        raise Stale(document_differences(row.document, document))
    version = row.version + 1
    access.rows(JobDesign).filter(pk=row.pk).update(
        document=document, version=version, hand=seen.hand, step=seen.step
    )
    if agreement:
        told = correct_design(access, job, agreement, why, row.document)
        return SavedDesign(version=version, followed=told, corrected=True)
    if not (quietly and _noted_lately(access, job)):
        write_log(access, job, SAVED)
    if row.chosen and access.rows(Reservation).filter(holder__job=job).exists():
        promise_all(access, job)  # what is reserved and booked follows the design
    return SavedDesign(version=version)


SAVED = "Design saved"
SPELL = timedelta(minutes=30)


def _noted_lately(access: Access, job: Job) -> bool:
    since = timezone.now() - SPELL
    return (
        access.rows(LogEntry).filter(job=job, what=SAVED, who=access.person, at__gt=since).exists()
    )


def _is_first(
    access: Access, job: Job, document: dict[str, object], letter: str, seen: SeenDesign
) -> bool:
    """Save a job's first design; False when somebody else's is there, even since a moment ago."""
    try:
        with transaction.atomic():
            facts = {"document": document, "hand": seen.hand, "step": seen.step}
            access.add(JobDesign, job=job, letter=letter, **facts)
    except IntegrityError:
        return False
    return True


def document_differences(theirs: object, yours: object, path: str = "") -> tuple[Difference, ...]:
    """Leaf by leaf, where two documents differ."""
    if isinstance(theirs, dict) and isinstance(yours, dict):
        keys = [*theirs, *(k for k in yours if k not in theirs)]
        pairs = [(f"{path} {k}".strip(), theirs.get(k), yours.get(k)) for k in keys]
    elif isinstance(theirs, list) and isinstance(yours, list):
        longest = max(len(theirs), len(yours))
        padded = [(x + [None] * longest)[:longest] for x in (theirs, yours)]
        pairs = [(f"{path} {i + 1}", a, b) for i, (a, b) in enumerate(zip(*padded, strict=True))]
    else:
        same = theirs == yours
        return () if same else (Difference(path, value_text(theirs), value_text(yours)),)
    return tuple(found for p, a, b in pairs for found in document_differences(a, b, p))


def value_text(value: object) -> str:
    return "none" if value is None else str(value)
