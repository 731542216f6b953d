"""Every paper of the house for one job, printed the way the house prints it."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone
from PIL import Image, ImageDraw

from jobs.day.lists import BUILD, print_list
from jobs.gather import worked_for
from jobs.models import Job, Offer
from jobs.money.invoicing import credit, issue
from jobs.money.ledger import record_payment
from jobs.money.papers import print_receipt, print_statement
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from pricing.models import OrderLine, PurchaseOrder, Supplier
from pricing.ordering import print_order
from pricing.stock import put
from studio.door import SeatAt
from studio.images import reencode_logo
from tests.conftest import signed_in
from tests.factories import a_designed_job

ON = date(2026, 6, 1)


def a_logo() -> bytes:
    """A logo as the studio's page keeps one: a disc on clear ground."""
    picture, out = Image.new("RGBA", (600, 200)), io.BytesIO()
    ImageDraw.Draw(picture).ellipse((10, 10, 190, 190), fill=(156, 58, 39, 255))
    picture.save(out, "PNG")
    return reencode_logo(io.BytesIO(out.getvalue()), size=len(out.getvalue()))


def an_offer(seat: SeatAt, job: Job, *, greeting: str = "Dear you,", note: str = "") -> Offer:
    words = Words(greeting=greeting, note=note)
    return send_offer(seat, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


def an_order(seat: SeatAt, *, lines: int = 3, name: str = "Depot", pack: str = "") -> PurchaseOrder:
    """An order of so many lines, each of its own price."""
    supplier = seat.add(Supplier, name=name)
    number = seat.rows(PurchaseOrder).count() + 1
    order = seat.add(
        PurchaseOrder, supplier=supplier, number=number, needed_by=ON, delivery=Decimal("7.95")
    )
    for i in range(lines):
        seat.add(
            OrderLine, order=order, code=f"C-{i:03d}", name=pack or f"Pack number {i}", count=i % 7 + 1,
            contents={"ball/11 in": 50}, price=Decimal(f"{8 + i}.45"),
        )  # fmt: skip
    return order


def papers_of_job(seat: SeatAt, job: Job) -> dict[str, bytes]:
    """What is printed before anything is sent: the lists and the labels."""
    worked = worked_for(seat, job)
    assert worked
    lists = {"pick": "papers/pick.html", "packing": "papers/packing.html", "build": BUILD}
    made = {name: print_list(seat, job, worked, at, on=ON) for name, at in lists.items()}
    answer = signed_in(seat).get(reverse("jobs:labels", args=[job.number]))
    return {**made, "labels": bytes(answer.content)}


def papers_of_stores(seat: SeatAt, *, shelf: str = "B2", **facts: Any) -> dict[str, bytes]:
    put(seat, "ball/11 in", Decimal(40), on=ON, shelf=shelf)
    count = signed_in(seat).get(reverse("pricing:count-pdf"))
    return {
        "count": bytes(count.content),
        "order": print_order(seat, an_order(seat, **facts), on=ON),
    }


def papers_of_money(
    seat: SeatAt, job: Job, *, name: str = "R", agent: str = "", **words: str
) -> dict[str, bytes]:
    """What goes to the client."""
    offer = an_offer(seat, job, **words)
    yes = accept(
        seat,
        offer,
        Yes(name=name, wording="I accept.", address=None, agent=agent),
        at=timezone.now(),
    )
    paid = record_payment(
        seat, job, on=timezone.localdate(), amount=Decimal("20.00"), how="transfer", reference=""
    )
    bill = issue(seat, job, on=ON)
    back = credit(seat, bill, Decimal("10.00"), words.get("note", ""), on=ON)
    return {
        "proposal": bytes(offer.pdf),
        "certificate": bytes(yes.certificate or b""),
        "invoice": bytes(bill.pdf),
        "credit": bytes(back.pdf),
        "receipt": print_receipt(seat, paid),
        "statement": print_statement(seat, job, on=ON),
    }


def every_paper(seat: SeatAt, job: Job | None = None) -> dict[str, bytes]:
    job = job or a_designed_job(seat)
    return {**papers_of_job(seat, job), **papers_of_stores(seat), **papers_of_money(seat, job)}
