"""Designs made at random, all of them sound."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from jobs.design.reading import Unreadable, design_from

PALETTE = [
    {"name": "ivory", "hex": "#efe6d2", "weight": 3},
    {"name": "sage", "hex": "#9db092", "weight": 2, "finish": "pearl"},
    {"name": "gold", "hex": "#c8a24c", "weight": 1, "finish": "metallic"},
]


def a_piece(support: dict[str, Any], **parts: Any) -> dict[str, Any]:
    return {"name": "Piece", "support": support, **parts}


def a_run(start: Any = None, end: Any = None, *pattern: str, **facts: Any) -> dict[str, Any]:
    return {
        "start": {"share": 0} if start is None else start,
        "end": {"share": 1} if end is None else end,
        "pattern": list(pattern) or ["cluster"],
        **facts,
    }


def a_design(
    *pieces: dict[str, Any],
    count: int = 8,
    blown_m: float = 0.25,
    size: str = "11 in",
    **facts: Any,
) -> Any:
    """A design read from data, with one recipe called "cluster" and a quad of small ones."""
    return design_from(
        {
            "format": "archwright-design",
            "version": 1,
            "palette": PALETTE,
            "recipes": [
                {"name": "cluster", "balls": [{"count": count, "size": size, "blown_m": blown_m}]},
                {"name": "small", "balls": [{"count": 4, "size": "5 in", "blown_m": 0.11}]},
            ],
            "pieces": list(pieces),
            **facts,
        }
    )


supports = st.one_of(
    st.builds(
        lambda d, f: {"kind": "ring", "diameter_m": d, "foot_m": f},
        st.floats(0.8, 4),
        st.floats(0, 0.5),
    ),
    st.builds(
        lambda s, r: {"kind": "ellipse-arch", "span_m": s, "rise_m": r},
        st.floats(0.8, 5),
        st.floats(0.8, 4),
    ),
    st.builds(
        lambda n, h: {"kind": "rail", "run_m": n, "height_m": h},
        st.floats(0.8, 6),
        st.floats(0.3, 2),
    ),
)


@st.composite
def designs(draw: st.DrawFn) -> Any:
    start = draw(st.floats(0, 0.5))
    end = draw(st.floats(0.6, 1))
    pattern = draw(st.lists(st.sampled_from(["cluster", "small"]), min_size=1, max_size=3))
    piece = a_piece(
        draw(supports),
        runs=[a_run({"share": start}, {"share": end}, *pattern)],
        accents=draw(st.none() | st.builds(lambda n: {"count": n}, st.integers(1, 6))),
        skirt=draw(st.none() | st.just({"clusters": 3, "recipe": "small"})),
    )
    try:
        return a_design(piece, count=draw(st.integers(2, 12)), seed=draw(st.integers(0, 999)))
    except (
        Unreadable
    ) as error:  # pragma: no cover  a strategy that makes faulty designs is itself a fault
        raise AssertionError(error) from error
