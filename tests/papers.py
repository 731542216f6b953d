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
from jobs.inputs import worked_for
from jobs.models import Job, Offer
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.ledger import record_payment
from jobs.money.papers import print_receipt, print_statement
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.models import OrderLine, PurchaseOrder, Supplier
from pricing.stores.ordering import print_order
from pricing.stores.stock import put_in_stock
from studio.access import Access
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


def an_offer(access: Access, job: Job, *, greeting: str = "Dear you,", note: str = "") -> Offer:
    words = Words(greeting=greeting, note=note)
    return send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


def an_order(
    access: Access, *, lines: int = 3, name: str = "Depot", pack: str = ""
) -> PurchaseOrder:
    """An order of so many lines, each of its own price."""
    supplier = access.add(Supplier, name=name)
    number = access.rows(PurchaseOrder).count() + 1
    order = access.add(
        PurchaseOrder, supplier=supplier, number=number, needed_by=ON, delivery=Decimal("7.95")
    )
    for i in range(lines):
        access.add(
            OrderLine, order=order, code=f"C-{i:03d}", name=pack or f"Pack number {i}", count=i % 7 + 1,
            contents={"ball/11 in": 50}, price=Decimal(f"{8 + i}.45"),
        )  # fmt: skip
    return order


def papers_of_job(access: Access, job: Job) -> dict[str, bytes]:
    """What is printed before anything is sent: the lists and the labels."""
    worked = worked_for(access, job)
    assert worked
    lists = {"pick": "papers/pick.html", "packing": "papers/packing.html", "build": BUILD}
    made = {name: print_list(access, job, worked, at, on=ON) for name, at in lists.items()}
    answer = signed_in(access).get(reverse("jobs:labels", args=[job.number]))
    return {**made, "labels": bytes(answer.content)}


def papers_of_stores(access: Access, *, shelf: str = "B2", **facts: Any) -> dict[str, bytes]:
    put_in_stock(access, "ball/11 in", Decimal(40), on=ON, shelf=shelf)
    count = signed_in(access).get(reverse("pricing:count-pdf"))
    return {
        "count": bytes(count.content),
        "order": print_order(access, an_order(access, **facts), on=ON),
    }


def papers_of_money(
    access: Access, job: Job, *, name: str = "R", agent: str = "", **words: str
) -> dict[str, bytes]:
    """What goes to the client."""
    offer = an_offer(access, job, **words)
    yes = accept_offer(
        access,
        offer,
        ClientYes(name=name, wording="I accept.", address=None, agent=agent),
        at=timezone.now(),
    )
    paid = record_payment(
        access, job, on=timezone.localdate(), amount=Decimal("20.00"), how="transfer", reference=""
    )
    bill = issue_invoice(access, job, on=ON)
    back = credit_invoice(access, bill, Decimal("10.00"), words.get("note", ""), on=ON)
    return {
        "proposal": bytes(offer.pdf),
        "certificate": bytes(yes.certificate or b""),
        "invoice": bytes(bill.pdf),
        "credit": bytes(back.pdf),
        "receipt": print_receipt(access, paid),
        "statement": print_statement(access, job, on=ON),
    }


def every_paper(access: Access, job: Job | None = None) -> dict[str, bytes]:
    job = job or a_designed_job(access)
    return {
        **papers_of_job(access, job),
        **papers_of_stores(access),
        **papers_of_money(access, job),
    }
