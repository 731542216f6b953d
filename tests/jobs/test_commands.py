"""The commands: take-off, quote, demo."""

from __future__ import annotations

import io
import json
from datetime import date
from typing import Any

import pytest
from django.core.management import call_command

from jobs.design.reading import write_design
from jobs.design.supports import KINDS
from jobs.inputs import worked_for
from jobs.models import Job, LogEntry, Offer, StudioPractice
from studio.access import Access
from studio.models import OutgoingMail, Studio
from tests.factories import DATA, a_designed_job
from tests.strategies import a_design, with_everything


def run(name: str, *words: str) -> dict[str, Any]:
    out = io.StringIO()
    call_command(name, *words, stdout=out)
    return json.loads(out.getvalue())


@pytest.mark.parametrize("path", sorted(DATA.glob("*.json")), ids=lambda p: p.stem)
def test_takeoff_prints_counts_minutes_and_findings(path: Any) -> None:
    told = run("takeoff", str(path))
    balloons = sum(int(c["quantity"]) for c in told["counts"] if c["key"].startswith("balloon/"))
    assert balloons == told["balls"] > 0
    assert {w["place"] for w in told["minutes"]} == {"workshop", "site"}
    assert {"code", "weight", "piece", "sentence", "mend"} == set(told["findings"][0])


def test_cuts_that_no_roll_gives_stand_apart(tmp_path: Any) -> None:
    tails = {"count": 3, "length_m": 30, "width_mm": 10, "colour": "cream"}
    document = json.loads((DATA / "shop-tenth.json").read_text())
    document["pieces"][0]["tails"] = tails
    path = tmp_path / "design.json"
    path.write_text(json.dumps(document))
    told = run("takeoff", str(path))
    (roll,) = [roll for roll in told["rolls"] if roll["longer_mm"]]
    (cut,) = roll["longer_mm"]
    assert cut[1] == 3
    assert cut[0] >= 30_000
    assert "longer-than-a-roll" in [f["code"] for f in told["findings"]]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_takeoff_answers_for_every_support_with_everything_on_it(tmp_path: Any, kind: str) -> None:
    path = tmp_path / "design.json"
    path.write_text(write_design(a_design(with_everything(kind))))
    told = run("takeoff", str(path), "--units", "imperial")
    keys = {c["key"].partition("/")[0] for c in told["counts"]}
    assert {"balloon", "tie", "greenery", "stem", "ribbon", "gas", "weight", "fastener"} <= keys
    assert ("line" in keys) is KINDS[kind].hung
    assert sum(s["count"] for s in told["sizes"]) == told["balls"]
    assert len(told["steps"]) == told["clusters"]
    assert all(roll["proven"] for roll in told["rolls"])
    assert {"inflate and size, up to 12 in", "tie a bow", "tuck a stem"} <= {
        w["operation"] for w in told["minutes"]
    }


def test_takeoff_reads_standard_input(monkeypatch: Any) -> None:
    content = (DATA / "lakeside.json").read_bytes()
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(content)))
    assert run("takeoff", "-")["title"].startswith("Anniversary")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (
            '{"format": "archwright-design"}',
            ["$.palette: expected a value, got nothing", "$.pieces: expected"],
        ),
        ("no json", ["$: expected JSON"]),
        (None, ["No such file"]),
    ],
)
def test_faults_go_to_standard_error_with_their_path_and_exit_2(
    tmp_path: Any, content: str | None, says: list[str]
) -> None:
    path = tmp_path / "design.json"
    if content is not None:
        path.write_text(content)
    out, err = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("takeoff", str(path), stdout=out, stderr=err)
    assert ended.value.code == 2
    assert out.getvalue() == ""
    for sentence in says:
        assert sentence in err.getvalue()


def test_quote_adds_the_price_from_the_price_book(access: Access) -> None:
    told = run("quote", str(DATA / "shop-tenth.json"), "--km", "10")
    price = told["price"]
    assert float(price["client"]["total"]) > float(price["owner"]["cost"]) > 0
    assert price["unpriced"] == []


@pytest.mark.parametrize(
    "words",
    [
        ["--km", "far"],
        ["--km", "nan"],
        ["--km", "-3"],
        ["--km", "-0.5"],
        ["--km", "100000"],
        ["--on", "1999-01-01"],
    ],
)
def test_quote_refuses_with_a_sentence_and_exit_2(access: Access, words: list[str]) -> None:
    err = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("quote", str(DATA / "shop-tenth.json"), *words, stderr=err)
    assert ended.value.code == 2
    assert "expected" in err.getvalue()


def test_quote_counts_as_the_studios_own_hands(access: Access) -> None:
    usual = run("quote", str(DATA / "shop-tenth.json"))
    access.add(StudioPractice, squeeze=0.7, minutes={"tie a bow": 30})
    own = run("quote", str(DATA / "shop-tenth.json"))
    assert own["balls"] > usual["balls"]  # squeezed tighter, more of them fit
    job = a_designed_job(access)
    worked = worked_for(access, job)
    assert worked
    assert own["balls"] == worked.takeoff.ball_count


def test_quote_writes_in_the_studios_units_unless_told(access: Access) -> None:
    path = str(DATA / "shop-tenth.json")
    assert run("quote", path) == run("quote", path, "--units", access.units)
    assert run("quote", path)["steps"] != run("quote", path, "--units", "metric")["steps"]


def test_quote_without_a_studio_says_so(db: None) -> None:
    err = io.StringIO()
    with pytest.raises(SystemExit):
        call_command("quote", str(DATA / "shop-tenth.json"), stderr=err)
    assert "studio: expected one, got none" in err.getvalue()


def test_the_demo_has_jobs_at_every_turn_and_loads_once(db: None) -> None:
    for _ in range(2):
        call_command("demo", stdout=io.StringIO())
    assert Studio.objects.count() == 1
    assert set(Job.objects.values_list("stage", flat=True)) == {
        "closed",
        "booked",
        "accepted",
        "offered",
        "priced",
        "enquiry",
    }
    assert Offer.objects.count() == 4
    assert OutgoingMail.objects.exists()
    assert LogEntry.objects.count() > 20


@pytest.mark.parametrize(
    "on", [date(2026, 1, 31), date(2028, 2, 29), date(2026, 10, 24), date(2026, 3, 27)]
)
def test_the_demo_loads_on_any_day(db: None, on: date) -> None:
    from jobs.demo import load_demo

    assert load_demo(on).rows(Job).count() == 6
