"""Balls at rest."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from scipy.spatial import cKDTree

from jobs.design.document import Design, Room
from jobs.design.layouts import LAYOUTS, laid_out
from jobs.design.reading import read_design
from jobs.design.settle import OVERLAP
from jobs.design.starters import sketch
from jobs.design.supports import KINDS
from jobs.design.working import work_out
from studio.measure import Units
from tests.depth import examples
from tests.factories import DATA
from tests.strategies import a_design, a_piece, designs

DOCUMENTS = sorted(DATA.glob("*.json"))


def deepest_overlap(design: Design) -> float:
    """Greatest overlap of two balls as part of the sum of their radii."""
    rest = work_out(design).settled
    pairs = cKDTree(rest.centres_m).query_pairs(2 * rest.radii_m.max(), output_type="ndarray")
    gap = np.linalg.norm(rest.centres_m[pairs[:, 0]] - rest.centres_m[pairs[:, 1]], axis=1)
    both = rest.radii_m[pairs].sum(axis=1)
    return float((1 - gap / both).max(initial=0))


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.stem)
def test_no_two_balls_overlap_more_than_the_squeeze(path: object) -> None:
    assert deepest_overlap(read_design(path.read_bytes())) <= OVERLAP + 0.02  # type: ignore[attr-defined]


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("kind", KINDS)
def test_no_first_sketch_overlaps_more_than_the_squeeze(
    kind: str, layout: str, units: Units
) -> None:
    for room in (Room(), Room(outdoors=True)):
        design = laid_out(sketch(kind, room, units), layout)
        assert deepest_overlap(design) <= OVERLAP + 0.02


@pytest.mark.parametrize(
    "parts",
    [
        {"floaters": {"count": 40, "spread_m": 1.0}},
        {"floaters": {"count": 40, "spread_m": 1.0, "on": "stick", "height_m": 0.3}},
        {"skirt": {"recipe": "cluster", "clusters": 30, "width_m": 1.0}},
    ],
    ids=["floaters", "low sticks", "skirt"],
)
def test_crowded_balls_make_room_for_one_another(parts: dict[str, Any]) -> None:
    rail = {"kind": "rail", "run_m": 2.0, "height_m": 1.0}
    assert deepest_overlap(a_design(a_piece(rail, **parts))) <= OVERLAP + 0.02


def test_floaters_with_room_all_stand_at_their_height() -> None:
    rail = {"kind": "rail", "run_m": 2.0, "height_m": 1.0}
    few = a_design(a_piece(rail, floaters={"count": 5, "spread_m": 1.0, "blown_m": 0.27}))
    assert work_out(few).settled.centres_m[:, 2] == pytest.approx(1.8 + 0.135, abs=0.05)


def test_the_same_design_lies_the_same_to_the_byte() -> None:
    first, again = (work_out(sketch("panel", Room())).settled for _ in range(2))
    assert first.centres_m.tobytes() == again.centres_m.tobytes()


@given(designs())
@settings(max_examples=examples(30), deadline=None)
def test_no_ball_passes_through_the_floor(design: Design) -> None:
    rest = work_out(design).settled
    assert (rest.centres_m[:, 2] >= rest.radii_m - 1e-9).all()


@given(designs())
@settings(max_examples=examples(20), deadline=None)
def test_every_counted_ball_is_at_rest_somewhere(design: Design) -> None:
    worked = work_out(design)
    assert len(worked.settled.centres_m) == worked.takeoff.ball_count
    assert np.isfinite(worked.settled.centres_m).all()
    blown = [b.blown_m / 2 for c in worked.composition.clusters for b in c.balls]
    assert worked.settled.radii_m.tolist() == blown
