"""When a colour cannot come in time: the shades that look most like it and can, for a person to accept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.day.following import follow_design
from jobs.design.colours import difference
from jobs.design.reading import design_from
from jobs.design.recolour import has_balls_of, with_other
from jobs.inputs import chosen_row, design_text, worked_for
from jobs.log import write_log
from jobs.models import Job, JobDesign, Shade
from jobs.proposal.agreed import permit_change
from jobs.proposal.correcting import correct_design
from pricing.core.supply_keys import SupplyKey, parse_key, write_key
from pricing.models import Reservation
from pricing.stores.buy_plan import packs_for
from pricing.stores.plan.wares import MissingSupply

if TYPE_CHECKING:
    from studio.access import Access

SHOWN = 3  # nearest colours for each that is missing


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """One colour that could take another's place."""

    missing: MissingSupply
    colour: str  # that cannot come
    shade: Shade
    difference: float  # ΔE2000
    jobs: tuple[int, ...]  # numbers of those that want the missing one


def stand_ins(access: Access, missing: Iterable[MissingSupply], *, on: date) -> list[StandIn]:
    """For every balloon colour that cannot come: the nearest shades that some pack brings in time."""
    shades = list(access.rows(Shade).order_by("name"))
    found = []
    for lack in missing:
        key = parse_key(lack.key)
        if key.kind != "balloon" or not key.colour:
            continue
        holders = access.rows(Reservation).filter(key=lack.key).values("holder")
        wanted = access.rows(Job).filter(holder__in=holders).values_list("number", flat=True)
        numbers = tuple(wanted.order_by("number"))
        hex_ = _hex_of(access, numbers, key.colour)
        if hex_ is None:
            continue
        fitting = [s for s in shades if s.name != key.colour and _comes(access, lack, key, s, on)]
        near = sorted(fitting, key=lambda s: difference(hex_, s.hex))[:SHOWN]
        found += [
            StandIn(
                missing=lack, colour=key.colour, shade=s, difference=difference(hex_, s.hex),
                jobs=numbers,
            )
            for s in near
        ]  # fmt: skip
    return found


def _comes(access: Access, lack: MissingSupply, key: SupplyKey, shade: Shade, on: date) -> bool:
    """Whether a pack that says so brings this colour in time: not one "in any colour", which failed already."""
    other = write_key(replace(key, colour=shade.name))
    return any(
        other in pack.contents and (lack.needed_by is None or pack.arrives(on) <= lack.needed_by)
        for pack in packs_for(access, [other], on=on)
    )


def _hex_of(access: Access, numbers: tuple[int, ...], colour: str) -> str | None:
    """What a colour looks like in the palettes of the jobs that want it."""
    for row in access.rows(JobDesign).filter(job__number__in=numbers, chosen=True):
        for entry in row.document["palette"]:
            if entry["name"] == colour:
                return str(entry["hex"])
    return None


@transaction.atomic
def stand_in(access: Access, job: Job, colour: str, shade: Shade, why: str = "") -> bool:
    """Put a shade in a balloon colour's place in the job's chosen design; what is promised follows.

    False when the colour is not there. After the client's yes it is a correction: raises Locked without a reason.
    """
    row = chosen_row(access, job)
    if row is None:
        return False
    design = design_from(row.document)
    names = [entry.name for entry in design.palette]
    if shade.name in names or not has_balls_of(design, colour):
        return False
    agreement, before = permit_change(access, job, why), worked_for(access, job)
    document = design_text(with_other(design, colour, shade.name, shade.hex, shade.finish))
    changed = access.rows(JobDesign).filter(pk=row.pk, version=row.version)
    if not changed.update(document=document, version=row.version + 1):
        return False
    write_log(access, job, f"{shade.name} stands in for {colour}")
    if agreement:
        correct_design(access, job, agreement, why, row.document)
    else:
        follow_design(access, job, before)
    return True


@transaction.atomic
def stand_in_all(
    access: Access, jobs: Iterable[Job], colour: str, shade: Shade, why: str = ""
) -> int:
    """The same in several jobs, in all of them or, where one is Locked, in none; answers in how many."""
    return sum(stand_in(access, job, colour, shade, why) for job in jobs)
