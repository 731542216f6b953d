"""Are the records what they were? Every log is walked, and what its lines vouch for is looked up."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jobs.inputs import chosen_row
from jobs.models import (
    Acceptance,
    Cancellation,
    EventMove,
    Invoice,
    Job,
    Offer,
    Payment,
)
from jobs.proposal.corrected import digest_left
from jobs.seals import canonical_value, digest_of, document_digest, seal_line, seal_row

if TYPE_CHECKING:
    from studio.access import Access


def vouch_offer(offer: Offer) -> dict[str, Any]:
    """What the line "sent" vouches for."""
    return {
        "offer": offer.version, "pdf": offer.pdf_sha256, "article": digest_of(offer.article),
        "figures": offer.figures, "choices": offer.choices, "row": seal_row(offer),
    }  # fmt: skip


def vouch_acceptance(yes: Acceptance) -> dict[str, Any]:
    """What the line "accepted" vouches for; its certificate too, where there is one."""
    paper = {"certificate": yes.certificate_sha256} if yes.certificate_sha256 else {}
    return {
        **paper,
        "accepted": yes.offer.version, "name": yes.name, "at": yes.at.astimezone(UTC).isoformat(),
        "choice": yes.choice, "wording": yes.wording, "pdf": yes.pdf_sha256,
        "address": yes.address, "agent": yes.agent, "row": seal_row(yes),
    }  # fmt: skip


def vouch_payment(payment: Payment) -> dict[str, Any]:
    """What the line of a payment vouches for. Lines from before there were kinds say none: they came in."""
    told = {
        "payment": payment.pk, "amount": f"{payment.amount.normalize():f}", "on": payment.on.isoformat(),
        "how": payment.how, "reference": payment.reference, "row": seal_row(payment),
    }  # fmt: skip
    if payment.kind != Payment.Kind.CAME:
        told |= {"kind": payment.kind, "of": payment.of_id}
    return told


def vouch_cancellation(off: Cancellation) -> dict[str, Any]:
    """What the line of a call-off vouches for."""
    return {
        "called_off": off.pk, "on": off.on.isoformat(), "days_before": off.days_before, "why": off.why,
        **{name: f"{getattr(off, name).normalize():f}" for name in ("kept_percent", "kept", "refund")},
        "row": seal_row(off),
    }  # fmt: skip


def vouch_event_move(move: EventMove) -> dict[str, Any]:
    """What the line of a postponement vouches for."""
    starts = {"from": move.from_start, "to": move.to_start}
    return {
        "postponed": move.pk, "why": move.why,
        **{name: at.astimezone(UTC).isoformat() for name, at in starts.items()},
        "row": seal_row(move),
    }  # fmt: skip


def vouch_invoice(invoice: Invoice) -> dict[str, Any]:
    """What the line of an invoice or a credit note vouches for."""
    return {
        "invoice": invoice.number, "kind": invoice.kind, "total": canonical_value(invoice.total),
        "pdf": invoice.pdf_sha256, "row": seal_row(invoice),
    }  # fmt: skip


def row_differs(row: Any, made: dict[str, Any], told: dict[str, Any]) -> bool:
    """Is a row no longer what its line told? Lines from before whole rows were sealed tell less."""
    whole = told.get("row")
    if whole and seal_row(row, whole["columns"]) != whole:
        return True
    return any(made.get(name) != value for name, value in told.items() if name != "row")


def record_faults(access: Access) -> Iterator[str]:
    """Everything that is not as it was, one sentence each; nothing when all is well."""
    for job in access.rows(Job).order_by("number"):
        name = f"Job {job.number:04d}"
        told: list[dict[str, Any]] = []
        yield from _log_faults(job, name, told)
        for data in told:
            yield from (f"{name}: {what}" for what in _row_faults(access, job, data))
        yield from (f"{name}: {what}" for what in _design_faults(access, job, told))


def _log_faults(job: Job, name: str, told: list[dict[str, Any]]) -> Iterator[str]:
    """Walks the chain; `told` gathers what its lines vouch for."""
    before = ""
    for line in job.log_entries.select_related("who").order_by("pk"):
        if not line.sha256 and not before:
            continue  # from before the seals
        made = seal_line(
            job=job, who=line.who, what=line.what, data=line.data, at=line.at, before=line.before
        )
        if line.before != before:
            yield f"{name}: the line before “{line.what}” is missing or was changed."
        if made != line.sha256 or line.studio_id != job.studio_id:
            yield f"{name}: the line “{line.what}” was changed."
        before = line.sha256
        told.append(line.data)


def _design_faults(access: Access, job: Job, told: list[dict[str, Any]]) -> Iterator[str]:
    """After a correction the chosen design is the one that the last of them left behind."""
    last = [digest for data in told if (digest := digest_left(data))][-1:]
    row = chosen_row(access, job) if last else None
    if last and (row is None or document_digest(row.document) != last[0]):
        yield "the design was changed since its last correction."


def _row_faults(access: Access, job: Job, data: dict[str, Any]) -> Iterator[str]:
    if "offer" in data:
        offer = access.rows(Offer).filter(job=job, version=data["offer"]).first()
        yield from _offer_faults(data, offer)
    elif "accepted" in data:
        yes = access.rows(Acceptance).filter(offer__job=job, offer__version=data["accepted"])
        yield from _yes_faults(data, yes.select_related("offer").first())
    elif "invoice" in data:
        bill = access.rows(Invoice).filter(job=job, number=data["invoice"]).first()
        yield from _invoice_faults(data, bill)
    elif "payment" in data:
        payment = access.rows(Payment).filter(job=job, pk=data["payment"]).first()
        if payment is None or row_differs(payment, vouch_payment(payment), data):
            yield f"a payment of {data['amount']} is missing or was changed."
    elif "called_off" in data:
        off = access.rows(Cancellation).filter(job=job, pk=data["called_off"]).first()
        if off is None or row_differs(off, vouch_cancellation(off), data):
            yield "what was settled at the call-off is missing or was changed."
    elif "postponed" in data:
        move = access.rows(EventMove).filter(job=job, pk=data["postponed"]).first()
        if move is None or row_differs(move, vouch_event_move(move), data):
            yield f"a postponement to {data['to'][:10]} is missing or was changed."


def _yes_faults(data: dict[str, Any], yes: Acceptance | None) -> Iterator[str]:
    if yes is None or row_differs(yes, vouch_acceptance(yes), data):
        yield f"the client’s yes to version {data['accepted']} is missing or was changed."
    elif digest_of(bytes(yes.certificate or b"")) != data.get("certificate", digest_of(b"")):
        yield f"the certificate of the yes to version {data['accepted']} was changed."


def _invoice_faults(data: dict[str, Any], row: Invoice | None) -> Iterator[str]:
    told = {**data, "total": canonical_value(Decimal(data["total"]))}
    if (
        row is None
        or row_differs(row, vouch_invoice(row), told)
        or digest_of(bytes(row.pdf)) != data["pdf"]
    ):
        yield f"{data['kind']} {data['invoice']:05d} is missing or was changed."


def _offer_faults(data: dict[str, Any], offer: Offer | None) -> Iterator[str]:
    if offer is None:
        yield f"proposal version {data['offer']} is missing."
        return
    if digest_of(bytes(offer.pdf)) != data["pdf"]:
        yield f"the PDF of proposal version {offer.version} was changed."
    if row_differs(offer, vouch_offer(offer), data):
        yield f"proposal version {offer.version} was changed."
