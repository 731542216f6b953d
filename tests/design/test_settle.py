"""Balls at rest."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from scipy.spatial import cKDTree

from jobs.design.document import Design
from jobs.design.reading import read_design
from jobs.design.settle import OVERLAP
from jobs.design.working import work_out
from tests.factories import DATA
from tests.strategies import designs

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


@given(designs())
@settings(max_examples=30, deadline=None)
def test_no_ball_passes_through_the_floor(design: Design) -> None:
    rest = work_out(design).settled
    assert (rest.centres_m[:, 2] >= rest.radii_m - 1e-9).all()


@given(designs())
@settings(max_examples=20, deadline=None)
def test_every_counted_ball_is_at_rest_somewhere(design: Design) -> None:
    worked = work_out(design)
    assert len(worked.settled.centres_m) == worked.takeoff.ball_count
    assert np.isfinite(worked.settled.centres_m).all()
    blown = [b.blown_m / 2 for c in worked.composition.clusters for b in c.balls]
    assert worked.settled.radii_m.tolist() == blown
