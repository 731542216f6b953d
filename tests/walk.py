"""Every address of the site, over a demo studio in which there is something of every kind to look at.

A test that means "every page" asks here, so that a new page is walked on the day it gets its address.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from itertools import product
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from PIL import Image

from jobs.alternatives import duplicate_alternative
from jobs.day.reserving import holder_of
from jobs.demo import SCENES, load_demo, play_scene
from jobs.models import (
    Client,
    ClientLink,
    Invoice,
    Job,
    JobDesign,
    Offer,
    Payment,
    SavedPiece,
    TimeTaken,
)  # fmt: skip
from jobs.money.cancelling import cancel_job, preview_cancellation
from jobs.photos import keep_photo
from jobs.proposal.links import shown_again, stop_token
from jobs.proposal.questions import ask_question
from jobs.saved_pieces import save_pieces
from pricing.models import (
    KitBooking,
    KitItem,
    KitNote,
    Pack,
    PurchaseOrder,
    Supplier,
    Supply,
    Trial,
)
from pricing.stores.csv_trial import open_trial, step_trial
from studio.access import Access
from tests.papers import a_logo, an_order

PUBLIC = frozenset({
    "studio:sign-in", "studio:sign-out", "studio:first", "jobs:offer-page", "jobs:offer-page-pdf",
    "jobs:offer-page-certificate", "jobs:offer-page-ask", "jobs:stop",
})  # fmt: skip
SHEET = b"supplier,code,name,holds,price,lead_days,least,grade,valid_from,valid_until\nDepot,=1+1,Bag,x,y,,,,,\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """One address: the name of its page, and where it is for one thing."""

    name: str
    path: str
    named: bool  # something is named in it: a row, a kind, a token


def entries(
    resolver: URLResolver | None = None, space: str = ""
) -> Iterator[tuple[str, URLPattern]]:
    """Every pattern of the site with its full name."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from entries(entry, entry.namespace or space)
        else:
            yield f"{space}:{entry.name}", entry


def furnished() -> Access:
    """The demo, and of everything else that has an address at least one."""
    access, today = load_demo(), timezone.localdate()
    booked = access.row(Job, number=2)
    play_scene(access, SCENES[1], today + timedelta(days=90))
    off = play_scene(access, SCENES[1], today + timedelta(days=180))
    seen = preview_cancellation(access, off, on=today).seen
    cancel_job(access, off, on=today, percent=None, why="a “storm”", seen=seen)
    an_order(access, name="Depot")
    step_trial(access, open_trial(access, "packs", "first.csv", SHEET))
    ask_question(access, access.row(Offer, job__number=3), "Could it be\ntaller?", tab="/")
    duplicate_alternative(access, access.row(Job, number=4), "A", "same")
    save_pieces(access, access.row(Job, number=1), "A", None)
    picture = io.BytesIO()
    Image.new("RGB", (400, 300), (90, 120, 90)).save(picture, "JPEG")
    keep_photo(access, booked, picture, picture.seek(0, 2) and picture.tell())
    access.add(
        KitNote, item=access.rows(KitItem)[0], kind=KitNote.Kind.CHARGED, what="bent",
        holder=holder_of(access, access.row(Job, number=1)), who=access.person,
    )  # fmt: skip
    type(access.studio).objects.filter(pk=access.studio.pk).update(logo=a_logo())
    return access


def named(access: Access) -> dict[str, dict[str, list[Any]]]:
    """What can stand in an address: by argument, and where that is not enough by page and argument."""

    def keys(model: Any, field: str = "pk", **where: Any) -> list[Any]:
        return list(access.rows(model).filter(**where).values_list(field, flat=True).order_by("pk"))

    tokens = [shown_again(link) for link in ClientLink.objects.filter(studio=access.studio)]
    orders = {"number": keys(PurchaseOrder, "number")}
    return {
        "": {
            "number": keys(Job, "number"),
            "version": sorted(set(keys(Offer, "version"))),
            "letter": sorted(set(keys(JobDesign, "letter"))),
            "invoice": keys(Invoice, "number"),
            "token": tokens,
        },
        "jobs:picture": {"kind": ["svg", "png"]},
        "jobs:invoice-file": {"kind": ["pdf", "xml"]},
        "jobs:journal": {"kind": ["csv", "beancount"]},
        "jobs:report-sheet": {"which": ["won", "lost", "booked", "ahead", "due", "profit", "kinds", "charged", "balances"]},
        "jobs:list-pdf": {"which": ["pick", "packing", "build"]},
        "jobs:forget-kept": {"pk": keys(SavedPiece)},
        "jobs:charge": {"pk": keys(KitNote)},
        "jobs:receipt": {"pk": keys(Payment)},
        "jobs:time-back": {"pk": keys(TimeTaken)},
        "jobs:stop": {"token": [stop_token(client) for client in access.rows(Client)[:2]]},
        "pricing:supply": {"pk": keys(Supply)[:6]},
        "pricing:new-price": {"pk": keys(Supply)[:2]},
        "pricing:kit-item": {"pk": keys(KitItem)[:3]},
        "pricing:kit-back": {"pk": keys(KitBooking)},
        "pricing:pack": {"pk": keys(Pack)[:3]},
        "pricing:supplier": {"pk": keys(Supplier)},
        "pricing:order": orders,
        "pricing:order-pdf": orders,
        "pricing:export": {"kind": ["supplies", "packs"]},
        "pricing:trial": {"pk": keys(Trial)},
    }  # fmt: skip


def every_address(access: Access, *, once: bool = False) -> list[Address]:
    """All of them, in the order of the URLconf. `once`: one for each page, that of the first thing of its kind."""
    known, found = named(access), []
    for name, entry in entries():
        wanted = list(entry.pattern.converters)
        pools = [{**known[""], **known.get(name, {})}.get(argument) for argument in wanted]
        missing = [
            f"{name}: {argument}" for argument, pool in zip(wanted, pools, strict=True) if not pool
        ]
        assert not missing, f"{missing}: expected something to name in tests/walk.py, got nothing."
        for values in product(*(pool or [] for pool in pools)):
            path = reverse(name, kwargs=dict(zip(wanted, values, strict=True)))
            found.append(Address(name=name, path=path, named=bool(wanted)))
    if once:
        return list({address.name: address for address in reversed(found)}.values())[::-1]
    return found
