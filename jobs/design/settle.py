"""Composition → balls at rest: where each counted ball is, for the picture and the room check."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Balls at rest. Row i of each array is ball i; balls of a cluster follow one another."""

    centres_m: NDArray[np.float64]  # (n, 3): x along the wall, y toward the viewer, z above the floor
    radii_m: NDArray[np.float64]  # (n,)
    cluster: NDArray[np.intp]  # (n,) index into Composition.clusters
