"""What everything that lays clusters says of them: a run, and each loose part that has some."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, ClassVar

from jobs.design.supports.base import Frozen
from studio.measure import Units, write_length

if TYPE_CHECKING:
    from jobs.design.composition import Cluster
    from jobs.design.document import Piece


class ClusterMaker(Frozen):
    """Class words and small methods about the clusters of a run or a loose part."""

    cluster_part: ClassVar[str] = ""  # what its clusters are part of, by one word: "skirt"
    step_words: ClassVar[str] = ""  # the same on the build sheet; empty: that word
    placed_by: ClassVar[str] = ""  # the operation; empty: as a cluster of its hold on a run
    finessed: ClassVar[bool] = False  # gone over once all stand
    on_tube: ClassVar[bool] = False  # sits on the support: lowering that lowers it
    lowering: ClassVar[str] = ""  # what else brings it under a ceiling, by {} at least
    apart: ClassVar[bool] = False  # stands by itself: no part of the piece's width and height
    # A ball stays within this part of its diameter of where it began; infinite: it goes where it is pushed.
    sway: ClassVar[float] = inf

    @property
    def on_gas(self) -> bool:
        """Whether its balls are filled with helium where they stand."""
        return False

    def placing(self, cluster: Cluster) -> str:
        """The operation that puts one where it belongs."""
        return self.placed_by or f"place a {cluster.hold} cluster"

    def half_ties(self, cluster: Cluster) -> int:
        """Halves of a tie that hold one: two for a cluster tied to its frame (common practice, no source)."""
        return 2 if cluster.hold == "tied" else 0

    def dots(self, cluster: Cluster) -> int:
        """Dots of glue that hold one."""
        return 0

    def held(self, cluster: Cluster) -> str:
        """The same for the build sheet."""
        return cluster.hold

    def step_of(self, cluster: Cluster) -> str:
        """What of the piece it is, on the build sheet."""
        return self.step_words or self.cluster_part

    def where(self, cluster: Cluster, piece: Piece, units: Units) -> str:
        """Where it stands, for the build sheet: so far along its support, so far up."""
        along = f"{write_length(cluster.s_m, units)} along"
        if piece.support.level:
            return along
        off = cluster.x_m - piece.at_m
        side = "" if abs(off) < CENTRAL_M else f" on the {'left' if off < 0 else 'right'}"
        return f"{along}, {write_length(cluster.z_m, units)} up{side}"


CENTRAL_M = 0.02  # nearer to the middle there is no side


def across_floor(cluster: Cluster, piece: Piece, units: Units) -> str:
    """Where something stands that is not on the support."""
    off = cluster.x_m - piece.at_m
    if abs(off) < CENTRAL_M:
        return "the middle"
    return f"{write_length(abs(off), units)} {'left' if off < 0 else 'right'} of the middle"
