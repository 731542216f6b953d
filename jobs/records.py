"""Are the records what they were? Every log is walked, and what its lines vouch for is looked up."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC
from typing import TYPE_CHECKING, Any

from jobs.models import (
    Acceptance,
    CallOff,
    Happening,
    Invoice,
    Job,
    Offer,
    Payment,
    Postponement,
)
from jobs.seals import digest_of, seal

if TYPE_CHECKING:
    from studio.door import SeatAt


def vouch_offer(offer: Offer) -> dict[str, Any]:
    """What the line "sent" vouches for."""
    return {
        "offer": offer.version, "pdf": offer.pdf_sha256, "article": digest_of(offer.article),
        "figures": offer.figures, "choices": offer.choices,
    }  # fmt: skip


def vouch_acceptance(yes: Acceptance) -> dict[str, Any]:
    """What the line "accepted" vouches for; its certificate too, where there is one."""
    paper = {"certificate": yes.certificate_sha256} if yes.certificate_sha256 else {}
    return {
        **paper,
        "accepted": yes.offer.version, "name": yes.name, "at": yes.at.astimezone(UTC).isoformat(),
        "choice": yes.choice, "wording": yes.wording, "pdf": yes.pdf_sha256,
        "address": yes.address, "agent": yes.agent,
    }  # fmt: skip


def vouch_payment(payment: Payment) -> dict[str, Any]:
    """What the line of a payment vouches for. Lines from before there were kinds say none: they came in."""
    told = {
        "payment": payment.pk, "amount": f"{payment.amount.normalize():f}", "on": payment.on.isoformat(),
        "how": payment.how, "reference": payment.reference,
    }  # fmt: skip
    if payment.kind != Payment.Kind.CAME:
        told |= {"kind": payment.kind, "of": payment.of_id}
    return told


def vouch_call_off(off: CallOff) -> dict[str, Any]:
    """What the line of a call-off vouches for."""
    return {
        "called_off": off.pk, "on": off.on.isoformat(), "days_before": off.days_before, "why": off.why,
        **{name: f"{getattr(off, name).normalize():f}" for name in ("kept_percent", "kept", "refund")},
    }  # fmt: skip


def vouch_postponement(move: Postponement) -> dict[str, Any]:
    """What the line of a postponement vouches for."""
    starts = {"from": move.from_start, "to": move.to_start}
    return {
        "postponed": move.pk, "why": move.why,
        **{name: at.astimezone(UTC).isoformat() for name, at in starts.items()},
    }  # fmt: skip


def faults(seat: SeatAt) -> Iterator[str]:
    """Everything that is not as it was, one sentence each; nothing when all is well."""
    for job in seat.rows(Job).order_by("number"):
        yield from _job_faults(seat, job)


def _job_faults(seat: SeatAt, job: Job) -> Iterator[str]:
    name = f"Job {job.number:04d}"
    before, told = "", []
    for line in seat.rows(Happening).filter(job=job).select_related("who").order_by("pk"):
        if not line.sha256 and not before:
            continue  # from before the seals
        made = seal(
            job=job, who=line.who, what=line.what, data=line.data, at=line.at, before=line.before
        )
        if line.before != before:
            yield f"{name}: the line before “{line.what}” is missing or was changed."
        if made != line.sha256:
            yield f"{name}: the line “{line.what}” was changed."
        before = line.sha256
        told.append(line.data)
    yield from _missing_rows(seat, job, name, told)


def _missing_rows(seat: SeatAt, job: Job, name: str, told: list[dict[str, Any]]) -> Iterator[str]:
    offers = {o.version: o for o in seat.rows(Offer).filter(job=job)}
    payments = {p.pk: p for p in seat.rows(Payment).filter(job=job)}
    for data in told:
        if "offer" in data:
            yield from _offer_faults(name, data, offers.get(data["offer"]))
        elif "accepted" in data:
            offer = offers.get(data["accepted"])
            yes = seat.rows(Acceptance).filter(offer=offer).select_related("offer").first()
            if yes is None or vouch_acceptance(yes) != data:
                yield f"{name}: the client’s yes to version {data['accepted']} is missing or was changed."
            elif (
                "certificate" in data
                and digest_of(bytes(yes.certificate or b"")) != data["certificate"]
            ):
                yield f"{name}: the certificate of the yes to version {data['accepted']} was changed."
        elif "invoice" in data:
            yield from _invoice_faults(seat, name, data)
        elif "payment" in data:
            payment = payments.get(data["payment"])
            if payment is None or vouch_payment(payment) != data:
                yield f"{name}: a payment of {data['amount']} is missing or was changed."
        elif "called_off" in data:
            off = seat.rows(CallOff).filter(job=job, pk=data["called_off"]).first()
            if off is None or vouch_call_off(off) != data:
                yield f"{name}: what was settled at the call-off is missing or was changed."
        elif "postponed" in data:
            move = seat.rows(Postponement).filter(job=job, pk=data["postponed"]).first()
            if move is None or vouch_postponement(move) != data:
                yield f"{name}: a postponement to {data['to'][:10]} is missing or was changed."


def _invoice_faults(seat: SeatAt, name: str, data: dict[str, Any]) -> Iterator[str]:
    row = seat.rows(Invoice).filter(number=data["invoice"]).first()
    if row is None or row.pdf_sha256 != data["pdf"] or digest_of(bytes(row.pdf)) != data["pdf"]:
        yield f"{name}: {data['kind']} {data['invoice']:05d} is missing or was changed."


def _offer_faults(name: str, data: dict[str, Any], offer: Offer | None) -> Iterator[str]:
    if offer is None:
        yield f"{name}: proposal version {data['offer']} is missing."
        return
    if digest_of(bytes(offer.pdf)) != data["pdf"]:
        yield f"{name}: the PDF of proposal version {offer.version} was changed."
    if vouch_offer(offer) != data:
        yield f"{name}: proposal version {offer.version} was changed."
