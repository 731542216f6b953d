"""The picture: what is counted is drawn, nothing else is."""

from __future__ import annotations

import re
from collections import Counter
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings

from jobs.design.document import Design
from jobs.design.picture import draw
from jobs.design.picture_handles import draw_handles, handles
from jobs.design.picture_plane import View, project
from jobs.design.picture_shading import gradient_stops, mix
from jobs.design.reading import read_design
from jobs.design.working import work_out
from studio.measure import Units
from tests.depth import examples
from tests.factories import DATA
from tests.strategies import a_design, a_piece, a_run, designs, with_everything

SVG = "{http://www.w3.org/2000/svg}"
DOCUMENTS = [read_design(p.read_bytes()) for p in sorted(DATA.glob("*.json"))]


def circles(svg: str) -> list[ElementTree.Element]:
    return [c for c in ElementTree.fromstring(svg).iter(f"{SVG}circle") if c.get("class") == "ball"]


@pytest.mark.parametrize("design", DOCUMENTS, ids=lambda d: d.title)
def test_the_circles_are_the_counts_size_by_size_and_colour_by_colour(design: Design) -> None:
    worked = work_out(design)
    drawn = Counter(
        (c.get("data-size"), c.get("data-colour")) for c in circles(draw(worked, units="metric"))
    )
    counted = {
        (need.key.item, need.key.colour): int(need.quantity)
        for need in worked.takeoff.needs
        if need.key.kind == "balloon"
    }
    assert dict(drawn) == counted


@given(designs())
@settings(max_examples=examples(25), deadline=None)
def test_any_design_draws_as_many_circles_as_it_counts(design: Design) -> None:
    worked = work_out(design)
    assert len(circles(draw(worked, units="imperial"))) == worked.takeoff.ball_count


@pytest.mark.parametrize("design", DOCUMENTS, ids=lambda d: d.title)
def test_a_circle_is_true_to_scale(design: Design) -> None:
    worked = work_out(design)
    scales = sorted(
        float(c.get("transform", "").partition("scale(")[2][:-1])
        for c in circles(draw(worked, units="metric"))
    )
    assert scales == pytest.approx(sorted(worked.settled.radii_m), abs=0.0005)


@pytest.mark.parametrize("design", DOCUMENTS, ids=lambda d: d.title)
def test_the_same_design_draws_the_same_to_the_byte(design: Design) -> None:
    assert draw(work_out(design), units="metric") == draw(work_out(design), units="metric")


def test_three_hundred_balls_stay_under_sixty_kilobytes() -> None:
    arch = a_piece({"kind": "ellipse-arch", "span_m": 5.4, "rise_m": 4.6}, runs=[a_run()])
    worked = work_out(a_design(arch, blown_m=0.24))
    assert 250 <= worked.takeoff.ball_count <= 350
    assert len(draw(worked, units="imperial").encode()) < 60_000


def test_names_that_look_like_markup_are_only_names() -> None:
    hostile = '"><script>alert(1)</script>'
    palette = [{"name": hostile, "hex": "#aabbcc"}]
    piece = {**a_piece({"kind": "ring", "diameter_m": 2}, runs=[a_run()]), "name": hostile}
    svg = draw(work_out(a_design(piece, palette=palette)), units="metric")
    assert "<script" not in svg
    assert {c.get("data-colour") for c in circles(svg)} == {hostile}


def test_it_says_what_it_shows_to_those_who_do_not_see_it() -> None:
    title = ElementTree.fromstring(draw(work_out(DOCUMENTS[0]), units="metric")).find(f"{SVG}title")
    assert title is not None
    assert "216 balloons" in (title.text or "")


def test_it_needs_no_styles_of_the_page() -> None:
    # Page styles do not reach an SVG inside a paper, and the site's policy forbids inline ones.
    svg = draw(work_out(DOCUMENTS[0]), units="metric")
    assert "style=" not in svg
    assert "<style" not in svg
    assert "objectBoundingBox" not in svg


def test_shading_stays_a_colour_and_never_fades_to_nothing() -> None:
    for design in DOCUMENTS:
        for colour in design.palette:
            for at, hex_, opacity in gradient_stops(colour, in_shade=True):
                assert 0 <= at <= 1
                assert opacity > 0.1
                assert len(hex_) == 7
    assert mix("#000000", 1) == "#ffffff"


@pytest.mark.parametrize("design", DOCUMENTS, ids=lambda d: d.title)
def test_no_ball_is_drawn_through_floor_or_ceiling(design: Design) -> None:
    rest = work_out(design).settled
    assert (rest.centres_m[:, 2] >= rest.radii_m - 1e-9).all()
    if design.room.ceiling_m and not design.room.outdoors:
        assert (rest.centres_m[:, 2] + rest.radii_m <= design.room.ceiling_m + 1e-6).all()


def test_too_high_a_piece_is_drawn_pressed_under_the_ceiling_and_told() -> None:
    ring = a_piece({"kind": "ring", "diameter_m": 2.2}, runs=[a_run()])
    worked = work_out(a_design(ring, room={"ceiling_m": 2.3}))
    rest = worked.settled
    assert (rest.centres_m[:, 2] + rest.radii_m <= 2.3 + 1e-9).all()
    assert (rest.free_z_m + rest.radii_m).max() > 2.3
    assert "ceiling" in {f.code for f in worked.takeoff.findings}


@pytest.mark.parametrize("view", ["front", "side", "plan"])
@given(design=designs())
@settings(max_examples=examples(10), deadline=None)
def test_every_ball_is_seen_from_every_side_inside_the_sheet(view: View, design: Design) -> None:
    worked = work_out(design)
    svg = draw(worked, units="metric", view=view)
    left, top, wide, high = map(float, ElementTree.fromstring(svg).get("viewBox", "").split())
    drawn = circles(svg)
    assert len(drawn) == worked.takeoff.ball_count
    for circle in drawn:
        x, y = map(float, circle.get("transform", "").partition("(")[2].partition(")")[0].split())
        assert left <= x <= left + wide
        assert top <= y <= top + high


def test_an_unmoved_point_keeps_its_place_in_all_three_views() -> None:
    at = np.array([[1.0, 0.5, 2.0]])
    assert project(at, "front").tolist() == [[100, -200, 0.5]]
    assert project(at, "side").tolist() == [
        [-50, -200, 1.0]
    ]  # seen from the right, the front is left
    assert project(at, "plan").tolist() == [[100, 50, 2.0]]


@pytest.mark.parametrize("view", ["front", "side", "plan"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_the_scale_bar_and_its_name_stay_on_a_narrow_sheet(view: View, units: Units) -> None:
    column = a_piece({"kind": "column", "height_m": 1.8})
    svg = draw(work_out(a_design(column)), units=units, view=view)
    left = float(re.search(r'viewBox="(\S+)', svg)[1])  # type: ignore[index]
    found = re.search(r'<text x="(\S+)" y="\S+" text-anchor="end"[^>]*>(1 m|3 ft)<', svg)
    assert found
    assert float(found[1]) - 30 >= left  # room for its name


def test_the_thumbnail_is_the_piece_alone() -> None:
    worked = work_out(DOCUMENTS[0])
    small = draw(worked, units="metric", shown="plain")
    assert len(circles(small)) == worked.takeoff.ball_count
    assert "<text" not in small


def test_every_handle_names_a_field_and_says_where_it_is() -> None:
    design = a_design(with_everything("ring"))
    worked = work_out(design)
    found = list(handles(worked, "imperial"))
    assert {h.kind for h in found} == {"end", "place", "feature", "edge", "piece"}
    assert all(h.least <= h.now <= h.most and h.said and h.label for h in found)
    names = {h.path: f"field-{i}" for i, h in enumerate(found)}
    drawn = ElementTree.fromstring(draw_handles(worked, names, "imperial"))
    sliders = [g for g in drawn if g.get("role") == "slider"]
    assert len(sliders) == len(found)
    assert all(g.get("tabindex") == "0" and g.get("aria-valuetext") for g in sliders)
    assert draw_handles(worked, {}, "imperial").count("slider") == 0
