"""A stretch of a support, in lengths along its path."""

from __future__ import annotations

from dataclasses import dataclass

from studio.measure import Units, write_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """On a closed path `end_s_m` may exceed the path's length: the stretch passes the start."""

    start_s_m: float
    end_s_m: float

    @property
    def length_m(self) -> float:
        return self.end_s_m - self.start_s_m

    def overlap_m(self, other: Stretch, around_m: float | None) -> float:
        """Length that two stretches share; `around_m` is the length of a closed path."""
        turns = (0.0,) if around_m is None else (-around_m, 0.0, around_m)
        return sum(
            max(
                0.0, min(self.end_s_m, other.end_s_m + t) - max(self.start_s_m, other.start_s_m + t)
            )
            for t in turns
        )

    def said(self, units: Units) -> str:
        """As the build sheet says it: "0.50 m to 2.10 m along"."""
        start, end = (write_length(s, units) for s in (self.start_s_m, self.end_s_m))
        return f"{start} to {end} along"
