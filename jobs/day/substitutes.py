"""When a colour cannot come in time: the shades that look most like it and can, for a person to accept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.briefs import note
from jobs.day.reserving import about, reserve
from jobs.design.colours import difference
from jobs.gather import chosen_row
from jobs.models import Job, JobDesign, Shade
from pricing.buyplan import packs_for
from pricing.core.buying import Missing
from pricing.models import Reservation

if TYPE_CHECKING:
    from studio.door import SeatAt

SHOWN = 3  # nearest colours for each that is missing


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """One colour that could take another's place."""

    missing: Missing
    colour: str  # that cannot come
    shade: Shade
    difference: float  # ΔE2000
    jobs: tuple[str, ...]  # that want the missing one


def stand_ins(seat: SeatAt, missing: Iterable[Missing], *, on: date) -> list[StandIn]:
    """For every balloon colour that cannot come: the nearest shades that some pack brings in time."""
    shades = list(seat.rows(Shade).order_by("name"))
    found = []
    for lack in missing:
        parts = lack.key.split("/")
        if parts[0] != "balloon" or len(parts) < 3:
            continue
        wanted = [row.about for row in seat.rows(Reservation).filter(key=lack.key)]
        hex_ = _hex_of(seat, wanted, parts[2])
        if hex_ is None:
            continue
        fitting = [s for s in shades if s.name != parts[2] and _comes(seat, lack, parts, s, on)]
        near = sorted(fitting, key=lambda s: difference(hex_, s.hex))[:SHOWN]
        found += [
            StandIn(
                missing=lack, colour=parts[2], shade=s, difference=difference(hex_, s.hex),
                jobs=tuple(wanted),
            )
            for s in near
        ]  # fmt: skip
    return found


def _comes(seat: SeatAt, lack: Missing, parts: list[str], shade: Shade, on: date) -> bool:
    """Whether a pack that says so brings this colour in time: not one "in any colour", which failed already."""
    key = "/".join([parts[0], parts[1], shade.name, *parts[3:]])
    return any(
        key in pack.contents and (lack.needed_by is None or pack.arrives(on) <= lack.needed_by)
        for pack in packs_for(seat, [key], on=on)
    )


def _hex_of(seat: SeatAt, abouts: list[str], colour: str) -> str | None:
    """What a colour looks like in the palettes of the jobs that want it."""
    numbers = [int(a.partition(":")[2]) for a in abouts if a.startswith("job:")]
    for row in seat.rows(JobDesign).filter(job__number__in=numbers, chosen=True):
        for entry in row.document["palette"]:
            if entry["name"] == colour:
                return str(entry["hex"])
    return None


@transaction.atomic
def stand_in(seat: SeatAt, job: Job, colour: str, shade: Shade) -> bool:
    """Put a shade in a colour's place in the job's chosen design, and reserve anew. False when it is not there."""
    row = chosen_row(seat, job)
    if row is None:
        return False
    names = [entry["name"] for entry in row.document["palette"]]
    if colour not in names or shade.name in names:
        return False
    document = _renamed(row.document, colour, shade)
    changed = seat.rows(JobDesign).filter(pk=row.pk, version=row.version)
    if not changed.update(document=document, version=row.version + 1):
        return False
    note(seat, job, f"{shade.name} stands in for {colour}")
    if seat.rows(Reservation).filter(about=about(job)).exists():
        reserve(seat, job)
    return True


def _renamed(document: dict[str, object], colour: str, shade: Shade) -> dict[str, object]:
    """The document with one colour's name, look and finish changed wherever it is named as a colour."""

    def walk(node: object, key: str = "") -> object:
        if isinstance(node, list):
            return [walk(item, key) for item in node]
        if not isinstance(node, dict):
            return shade.name if key == "colour" and node == colour else node
        if key == "weights":
            return {shade.name if k == colour else k: v for k, v in node.items()}
        made = {k: walk(v, k) for k, v in node.items()}
        if key == "palette" and made.get("name") == colour:
            made |= {"name": shade.name, "hex": shade.hex, "finish": shade.finish}
        return made

    return {key: walk(value, key) for key, value in document.items()}
