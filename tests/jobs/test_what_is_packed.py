"""What goes into the van: packing page, packing list, labels, Build, pick list and build sheet say one thing."""

from __future__ import annotations

import html
import re
from collections import Counter
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client as Browser
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.day.bags import FULL, carry, fill_of
from jobs.day.boxes import Packing, pack_boxes
from jobs.day.building import facts_of_building
from jobs.day.following import follow_design
from jobs.day.loading import PARTS, TravelPlan, Van, work_loading
from jobs.day.travelling import packing_for, to_inflate
from jobs.design.labour import inflating
from jobs.design.needs import balloon_key
from jobs.design.working import Worked, work_out
from jobs.inputs import worked_for
from jobs.models import Client, Job, JobDesign, LogEntry, PackTick, Venue
from pricing.core.supply_keys import write_key
from studio.access import Access
from studio.models import Studio
from tests.conftest import signed_in
from tests.depth import examples
from tests.factories import a_designed_job
from tests.strategies import a_design, a_piece, a_run, designs, with_everything

type Lines = set[tuple[str, str, str]]  # group, how many, what
UNITS = st.sampled_from(["metric", "imperial"])
RING = {"kind": "ring", "diameter_m": 2.2}


def worked_in(design: Any, units: Any = "metric") -> Worked:
    return work_out(design, units=units)


def ways_of(worked: Worked, units: Any = "metric") -> tuple[TravelPlan, ...]:
    return work_loading(worked, Van(), km_one_way=10, units=units).ways


def text_of(markup: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def lines_in(markup: str, each: str) -> list[tuple[str, str]]:
    """(How many, what) of every line of a surface; `each` finds both."""
    return [(text_of(many), text_of(what)) for many, what in re.findall(each, markup, re.DOTALL)]


def grouped(markup: str, head: str, each: str) -> Lines:
    """Lines under their groups' titles."""
    parts = re.split(head, markup)
    return {
        (text_of(title), many, what)
        for title, body in zip(parts[1::2], parts[2::2], strict=True)
        for many, what in lines_in(body, each)
    }


def surfaces(worked: Worked, way: TravelPlan, units: str) -> dict[str, Lines]:
    """What each surface says, read out of its own markup."""
    at = datetime(2026, 6, 20, 12, tzinfo=UTC)
    venue = Venue(name="Hall", address="1 Lane")
    job = Job(
        number=7, title="Noon", client=Client(name="C"), venue=venue, event_start=at, event_end=at
    )
    packing = way.packing
    facts: dict[str, Any] = {
        "studio": Studio(name="S", units=units, language="en-GB"), "job": job, "packing": packing, "way": way,
        "all": len(packing.things), "missing": packing.things, "code": "",
        "groups": [(g, [(t, False) for t in g.things]) for g in packing.groups],
    }  # fmt: skip
    strong = r"<strong>([^<]*(?:×|\d[^<]*))</strong>([^<]*)"
    return {
        "page": grouped(
            render_to_string("jobs/day/packing.html#list", facts),
            r'<h2 id="group-\d+">(.*?)<span class="help">', strong,
        ),
        "list": grouped(
            render_to_string("papers/packing.html", facts), r"<caption>(.*?)<span class=\"help\">",
            r'<td class="many">(.*?)</td><td>(.*?)</td>',
        ),
        "build": grouped(
            render_to_string("jobs/day/build.html#into_the_van", facts), r"<h3>(.*?)<span class=\"help\">", strong,
        ),
        "labels": grouped(render_to_string("papers/labels.html", facts), r"<h2>(.*?)</h2>", strong),
    }  # fmt: skip


def said(packing: Packing, *kinds: str) -> Lines:
    return {
        (group.title, thing.count, thing.what)
        for group in packing.groups
        if not kinds or group.kind in kinds
        for thing in group.things
    }


@given(designs(), UNITS, st.sampled_from(PARTS))
@settings(max_examples=examples(20), deadline=None)
def test_every_surface_says_the_same_things_and_counts(
    design: Any, units: str, part: float
) -> None:
    worked = worked_in(design, units)
    way = next(w for w in ways_of(worked, units) if w.percent == round(100 * part))
    told = surfaces(worked, way, units)
    assert told["page"] == said(way.packing)
    assert told["list"] == told["page"]
    assert told["build"] == told["page"]
    labelled = {line for line in told["labels"] if not line[0].startswith("Bag ")}
    assert labelled == said(way.packing, "box")


@given(designs(), st.sampled_from(PARTS))
@settings(max_examples=examples(30), deadline=None)
def test_every_balloon_is_in_one_bag_or_inflated_on_site_and_counted_once(
    design: Any, part: float
) -> None:
    worked = worked_in(design)
    carried = carry(worked, part)
    numbers = [n for bag in carried.bags for n, _ in bag.clusters]
    assert sorted(numbers + [n for n, _ in carried.on_site]) == list(
        range(1, worked.takeoff.cluster_count + 1)
    )
    assert all(sum(fill_of(c) for _, c in bag.clusters) <= FULL for bag in carried.bags)
    packing = pack_boxes(worked.takeoff, carried, "metric")
    counts = {thing.key: thing.count for thing in packing.things}
    assert len(counts) == len(packing.things)
    bagged = Counter(
        balloon_key(b) for bag in carried.bags for _, c in bag.clusters for b in c.balls
    )
    for need in worked.takeoff.needs:
        if need.key.kind == "balloon":
            site = Decimal(counts.get(f"{write_key(need.key)}/on site", "0 ×").removesuffix(" ×"))
            assert bagged[need.key] + site == need.quantity
            assert counts.get(write_key(need.key), "0 ×") == f"{need.spare} ×"
    assert len(packing.bags) == len(carried.bags)


@given(designs(), st.sampled_from(PARTS))
@settings(max_examples=examples(20), deadline=None)
def test_tables_of_balloons_add_up_to_those_of_the_take_off(design: Any, part: float) -> None:
    worked = worked_in(design)
    carried = carry(worked, part)
    rows = to_inflate(worked, carried)
    assert sum(home for *_, home, _ in rows) == sum(bag.balls for bag in carried.bags)
    assert sum(home + site for *_, home, site in rows) == worked.takeoff.ball_count
    assert sum(line.count for line in worked.takeoff.sizing) == worked.takeoff.ball_count
    sheet = facts_of_building(worked, "metric", carried)
    lots: Counter[tuple[str, str]] = Counter()
    for piece in sheet["pieces"]:
        for step in piece.steps:
            for lot in step.lots:
                lots[lot.size, lot.colour] += lot.count
    assert lots == Counter(
        (b.size, b.colour.name) for c in worked.composition.clusters for b in c.balls
    )
    used = {c.recipe for c in worked.composition.clusters}
    assert {recipe.name for recipe, _ in sheet["recipes"]} <= used


@given(designs(), UNITS)
@settings(max_examples=examples(20), deadline=None)
def test_nothing_is_counted_none_and_no_key_is_shown(design: Any, units: str) -> None:
    worked = worked_in(design, units)
    for way in ways_of(worked, units):
        for thing in way.packing.things:
            assert not re.match(r"0(?!\.?\d)", thing.count), thing
            assert not re.search(
                r"(?:balloon|ribbon|greenery|stem|tie|fastener|kit|bag|tool)/",
                thing.count + thing.what + thing.why,
            )
            if units == "imperial":
                metres = re.search(
                    r"\d m\b|\d cm\b",
                    thing.count + thing.why + re.sub(r"ribbon .*", "", thing.what),
                )
                assert not metres, thing


@given(designs())
@settings(max_examples=examples(20), deadline=None)
def test_fewer_are_bagged_as_more_are_inflated_on_site(design: Any) -> None:
    ways = ways_of(worked_in(design))
    balls = [sum(bag.balls for bag in way.carried.bags) for way in ways]
    assert balls == sorted(balls, reverse=True)
    assert (ways[-1].bags, balls[-1]) == (0, 0)


def test_floaters_on_gas_are_never_bagged() -> None:
    worked = worked_in(a_design(a_piece(RING, runs=[a_run()], floaters={"count": 7})))
    carried = carry(worked, 1)
    assert {c.part for _, c in carried.on_site} == {"floater"}
    things = {t.what: t for t in pack_boxes(worked.takeoff, carried, "metric").things}
    assert things["helium"].where == things["cylinder of helium with filler and strap"].where
    on_stick = worked_in(a_design(a_piece(RING, floaters={"count": 7, "on": "stick"})))
    assert carry(on_stick, 1).on_site == ()


def test_a_cluster_larger_than_a_bag_is_made_on_site() -> None:
    design = a_design(a_piece(RING, runs=[a_run()]), count=4, blown_m=0.7, size="36 in")
    carried = carry(worked_in(design), 1)
    # A bag of 0.72 m³ holds int(0.55 × 0.72 / 0.1796) = 2 balls of 0.7 m: four do not go in. Own arithmetic.
    assert carried.bags == ()
    assert len(carried.on_site) > 0


def test_two_pieces_of_one_name_share_a_line_and_a_tick() -> None:
    worked = worked_in(a_design(a_piece(RING), a_piece({**RING}, at_m=3)))
    packing = pack_boxes(worked.takeoff, carry(worked, 1), "metric")
    (rings,) = (t for t in packing.things if t.what == "Piece: ring")
    assert rings.count == "2 ×"


def test_strands_of_two_lengths_are_two_lines_with_a_tick_each() -> None:
    whole = {"start": {"share": 0}, "end": {"share": 1}}
    greenery = [{**whole, "strand_m": 2.0}, {**whole, "strand_m": 1.5}]
    worked = worked_in(a_design(a_piece(RING, greenery=greenery)))
    strands = [
        t
        for t in pack_boxes(worked.takeoff, carry(worked, 1), "metric").things
        if "strand" in t.what
    ]
    assert len({t.key for t in strands}) == len(strands) == 2


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, stage="booked")


def test_the_chosen_way_decides_what_is_bagged_and_is_logged(browser: Browser, job: Job) -> None:
    build, packing = (reverse(f"jobs:{name}", args=[job.number]) for name in ("build", "packing"))
    assert browser.get(build).context["way"].percent == 100
    browser.post(reverse("jobs:travel", args=[job.number]), {"way": "0"})
    page = browser.get(build)
    assert "All inflated on site</strong> (as chosen): 0 bags" in " ".join(
        page.content.decode().split()
    )
    assert "To inflate on site" in browser.get(packing).content.decode()
    assert LogEntry.objects.filter(job=job, what="How it travels: 0 % built").exists()
    browser.post(reverse("jobs:travel", args=[job.number]), {"way": "best"})
    assert browser.get(build).context["way"].percent == 100
    wrong = browser.post(reverse("jobs:travel", args=[job.number]), {"way": "33"}, follow=True)
    assert (
        "How it travels: expected one of the ways of the list, got “33”." in wrong.content.decode()
    )
    lost = browser.get(reverse("jobs:travel", args=[job.number]))
    assert (lost.status_code, lost["Location"]) == (302, build)


def test_another_split_is_another_bag_and_not_ticked_yet(
    browser: Browser, access: Access, job: Job
) -> None:
    at = reverse("jobs:packing", args=[job.number])
    for thing in browser.get(at).context["missing"]:
        browser.post(at, {"key": thing.key, "on": "1"})
    assert browser.get(at).context["missing"] == []
    ticks = PackTick.objects.count()
    browser.post(reverse("jobs:travel", args=[job.number]), {"way": "50"})
    missing = browser.get(at).context["missing"]
    assert missing
    assert all(t.where in ("Bags of balloons, on top", "To inflate on site") for t in missing)
    assert ticks == PackTick.objects.count()


def test_a_bag_of_other_colours_is_to_be_looked_at_again(access: Access, job: Job) -> None:
    worked = worked_for(access, job)
    assert worked
    for thing in packing_for(access, job, worked).things:
        access.add(PackTick, job=job, key=thing.key)
    document = JobDesign.objects.get(job=job).document
    document["palette"][0]["weight"] += 5
    JobDesign.objects.filter(job=job).update(document=document)
    assert "to look at again" in follow_design(access, job, worked)
    after = worked_for(access, job)
    assert after
    bags = packing_for(access, job, after).bags
    assert not PackTick.objects.filter(job=job, key__in=[bag.key for bag in bags]).exists()
    assert PackTick.objects.filter(job=job, key="kit/bin bags").exists()


def test_a_stranger_cannot_choose_for_another_studio(stranger: Access, job: Job) -> None:
    answer = signed_in(stranger).post(reverse("jobs:travel", args=[job.number]), {"way": "0"})
    assert answer.status_code == 404
    job.refresh_from_db()
    assert job.built_percent is None


def test_pieces_of_every_kind_pack_without_a_key_twice() -> None:
    worked = worked_in(a_design(with_everything("ring"), with_everything("column")))
    for way in ways_of(worked):
        assert len({t.key for t in way.packing.things}) == len(way.packing.things)


def test_build_and_after_say_alike_which_counted_minutes_fall_on_site(
    browser: Browser, access: Access
) -> None:
    """Prices and counts know no van, so what a way to travel moves from one place to another is said beside them."""
    job = a_designed_job(access)
    worked = worked_for(access, job)
    assert worked
    blown = [
        ball.blown_m for c in worked.composition.clusters for ball in c.balls if c.part != "floater"
    ]
    each = [worked.practice.minutes[inflating(metres)] for metres in blown]
    said = f"The way it travels, {sum(each) * (1 + worked.practice.allowance):.0f} of these minutes fall on site."
    for percent, there in ((0, True), (100, False)):
        Job.objects.filter(pk=job.pk).update(built_percent=percent)
        for name in ("jobs:build", "jobs:after"):
            page = browser.get(reverse(name, args=[job.number])).content.decode()
            assert (said in page, "fall on site" in page) == (there, there), (name, percent)
