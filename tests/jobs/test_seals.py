"""The form of a seal is for ever: what was written in years before must still be found as it was."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from jobs.models import Acceptance, Cancellation, EventMove, Invoice, Offer, Payment
from jobs.records import (
    row_differs,
    vouch_acceptance,
    vouch_cancellation,
    vouch_event_move,
    vouch_invoice,
    vouch_offer,
    vouch_payment,
)
from jobs.seals import canonical_value, digest_of, document_digest, seal_line, seal_row

NOON = datetime(2026, 6, 1, 12, 0, 0, 5, tzinfo=UTC)


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def test_a_line_is_sealed_as_this_text() -> None:
    """Canonical JSON (RFC 8785 in spirit): keys in order, no spaces, letters as they are."""
    made = seal_line(
        job=SimpleNamespace(pk=7), who=SimpleNamespace(pk=3), what="Zusage – “ja”", data={"b": 1, "a": [True, None]},
        at=NOON.astimezone(timezone(timedelta(hours=5))), before="abc",
    )  # fmt: skip
    assert made == sha(
        '{"at":"2026-06-01T12:00:00.000005+00:00","before":"abc","data":{"a":[true,null],"b":1},"job":7,'
        '"what":"Zusage – “ja”","who":3}'
    )
    whole = seal_line(
        job=SimpleNamespace(pk=7),
        who=None,
        what="",
        data={},
        at=NOON.replace(microsecond=0),
        before="",
    )
    assert whole == sha(
        '{"at":"2026-06-01T12:00:00.000000+00:00","before":"","data":{},"job":7,"what":"","who":null}'
    )


def test_a_row_is_sealed_as_this_text() -> None:
    row = Payment(
        pk=4, studio_id=1, job_id=2, kind="came", on=date(2026, 6, 1), amount=Decimal("120.500"), how="cash",
        reference="ü", entered_at=NOON,
    )  # fmt: skip
    told = seal_row(row)
    assert told["columns"] == [
        "amount", "entered_at", "entered_by_id", "how", "id", "job_id", "kind", "of_id", "on", "reference", "studio_id",
    ]  # fmt: skip
    assert told["sha256"] == sha(
        '[["amount","120.5"],["entered_at","2026-06-01T12:00:00.000005+00:00"],["entered_by_id",null],["how","cash"],'
        '["id",4],["job_id",2],["kind","came"],["of_id",null],["on","2026-06-01"],["reference","ü"],["studio_id",1]]'
    )
    assert seal_row(row, ["gone", "on"])["sha256"] == sha('[["gone",null],["on","2026-06-01"]]')


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (None, None), (True, True), (False, False), ("1", "1"), (1, 1), (1.0, 1), (-0.0, 0), (0.1, 0.1), (1e22, 10**22),
        (Decimal("0.00"), "0"), (Decimal("-0.0"), "0"), (Decimal("1E+3"), "1000"), (Decimal("1.50"), "1.5"),
        (date(2026, 6, 1), "2026-06-01"), (NOON, "2026-06-01T12:00:00.000005+00:00"),
        (b"x", sha("x")), (memoryview(b"x"), sha("x")), (bytearray(b"x"), sha("x")),
        ((1, "a"), [1, "a"]), ({2: 1.0, "10": [Decimal("2.0")]}, {"10": ["2"], "2": 1}),
    ],
)  # fmt: skip
def test_a_value_is_said_as_every_database_gives_it_back(value: Any, said: Any) -> None:
    made = canonical_value(value)
    assert made == said
    assert type(made) is type(said)


def test_a_dict_is_said_in_order() -> None:
    assert list(canonical_value({"b": 1, "a": 2})) == ["a", "b"]


def test_what_no_column_holds_is_refused() -> None:
    with pytest.raises(TypeError, match="expected a value of a column"):
        canonical_value(object())


def test_words_and_bytes_have_one_digest() -> None:
    assert digest_of("ü") == digest_of("ü".encode()) == sha("ü")


def test_a_design_is_known_by_its_document() -> None:
    assert document_digest({"b": "ü", "a": 1}) == document_digest({"a": 1, "b": "ü"})
    assert document_digest({"a": 1}) != document_digest({"a": 2})


# What the line of each row tells of it (a row that was not saved says the same)


def test_what_the_line_of_a_payment_tells() -> None:
    facts = {
        "pk": 4,
        "on": date(2026, 6, 1),
        "amount": Decimal("120.50"),
        "how": "cash",
        "reference": "x",
    }
    row = Payment(**facts)
    told = {
        "payment": 4,
        "amount": "120.5",
        "on": "2026-06-01",
        "how": "cash",
        "reference": "x",
        "row": seal_row(row),
    }
    assert vouch_payment(row) == told
    back = Payment(**facts, kind="bounced", of_id=3)
    assert vouch_payment(back) == {**told, "kind": "bounced", "of": 3, "row": seal_row(back)}


def test_what_the_line_of_a_proposal_tells() -> None:
    row = Offer(
        version=2, pdf_sha256="f", article="<p>", figures={"total": "1"}, choices=[{"letter": "A"}]
    )
    assert vouch_offer(row) == {
        "offer": 2, "pdf": "f", "article": digest_of("<p>"), "figures": {"total": "1"}, "choices": [{"letter": "A"}],
        "row": seal_row(row),
    }  # fmt: skip


def test_what_the_line_of_a_yes_tells() -> None:
    row = Acceptance(
        offer=Offer(version=2),
        name="R",
        at=NOON,
        wording="I do.",
        choice="A",
        pdf_sha256="f",
        address="::1",
        agent="b",
    )
    told = {
        "accepted": 2, "name": "R", "at": "2026-06-01T12:00:00.000005+00:00", "choice": "A", "wording": "I do.",
        "pdf": "f", "address": "::1", "agent": "b", "row": seal_row(row),
    }  # fmt: skip
    assert vouch_acceptance(row) == told
    row.certificate_sha256 = "c"
    assert vouch_acceptance(row) == {**told, "certificate": "c", "row": seal_row(row)}


def test_what_the_line_of_an_invoice_tells() -> None:
    row = Invoice(
        number=7,
        kind="credit",
        total=Decimal("12.300"),
        pdf_sha256="f",
        pdf=b"x",
        net=1,
        tax=2,
        paid=0,
    )
    assert vouch_invoice(row) == {
        "invoice": 7, "kind": "credit", "total": "12.3", "pdf": "f", "row": seal_row(row),
    }  # fmt: skip


def test_what_the_lines_of_a_call_off_and_of_a_move_tell() -> None:
    off = Cancellation(
        pk=1,
        on=date(2026, 6, 1),
        days_before=9,
        why="ill",
        kept_percent=Decimal("75.00"),
        kept=Decimal("10.500"),
        refund=Decimal("0.000"),
    )
    assert vouch_cancellation(off) == {
        "called_off": 1, "on": "2026-06-01", "days_before": 9, "why": "ill", "kept_percent": "75", "kept": "10.5",
        "refund": "0", "row": seal_row(off),
    }  # fmt: skip
    move = EventMove(pk=2, why="rain", from_start=NOON, to_start=NOON + timedelta(days=1))
    assert vouch_event_move(move) == {
        "postponed": 2, "why": "rain", "from": "2026-06-01T12:00:00.000005+00:00",
        "to": "2026-06-02T12:00:00.000005+00:00", "row": seal_row(move),
    }  # fmt: skip


def test_a_row_differs_where_its_line_says_something_else() -> None:
    row = Payment(pk=4, on=date(2026, 6, 1), amount=Decimal(1), how="cash", reference="x")
    told = vouch_payment(row)
    assert not row_differs(row, told, told)
    assert not row_differs(row, told, {"payment": 4})  # an older line, which told less
    assert row_differs(row, told, {"payment": 4, "kind": "bounced"})
    for name in told:
        assert row_differs(
            row, told, {**told, name: {**told["row"], "sha256": "0"} if name == "row" else "other"}
        ), name


def test_a_design_is_digested_as_this_text() -> None:
    assert document_digest({"b": [1.5, None], "a": "ü"}) == sha('{"a":"ü","b":[1.5,null]}')
