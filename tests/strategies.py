"""Designs made at random, all of them sound."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from hypothesis import strategies as st

from jobs.design.document import VERSION
from jobs.design.parts import PART_KINDS
from jobs.design.reading import Unreadable, design_from
from jobs.design.supports import KINDS

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
            "version": VERSION,
            "palette": PALETTE,
            "recipes": [
                {"name": "cluster", "balls": [{"count": count, "size": size, "blown_m": blown_m}]},
                {"name": "small", "balls": [{"count": 4, "size": "5 in", "blown_m": 0.11}]},
            ],
            "pieces": list(pieces),
            **facts,
        }
    )


def neat(length_m: float) -> float:
    return math.floor(length_m / 0.05 + 1e-6) * 0.05


def examples(*, without: Iterable[str]) -> dict[str, Any]:
    """Every kind of loose part by its own example, as data, but those that a test makes itself."""
    kinds = {key: kind for key, kind in PART_KINDS.items() if key not in without}
    said = {
        key: kind.example().model_dump(mode="json", exclude_defaults=True)
        for key, kind in kinds.items()
    }
    return {key: [one] if kinds[key].is_many() else one for key, one in said.items()}


def with_everything(kind: str) -> dict[str, Any]:
    """A piece of one kind that carries every part there is."""
    support = KINDS[kind].begin(2.3, neat).model_dump(mode="json")
    whole = {"start": {"share": 0}, "end": {"share": 1}}
    features = [{"recipe": "small", "every": 4}, {"recipe": "small", "at": [{"share": 0.3}]}]
    made = {
        "skirt": {"recipe": "small", "depth_m": 0.4, "height_m": 0.3},
        "accents": {"per_m": 2},
        "features": {"count": 2, "size": "24 in", "blown_m": 0.5, "fixed": "dot"},
        "floaters": {"count": 5},
        "greenery": [{**whole, "wrap_pitch_m": 0.4, "tuck_m": 0.1}],
        "stems": {"count": 8},
        "tails": {"count": 3, "length_m": 0.7},
        "wraps": [whole],
        "bows": {"count": 2},
    }
    parts = {**made, **examples(without=made)}
    return a_piece(
        support,
        name=f"On a {KINDS[kind].label}",
        runs=[a_run(None, {"share": 0.7}, "cluster", "small", taper=0.8, features=features, weights={"gold": 1})],
        **{key: part for key, part in parts.items() if PART_KINDS[key].fits(KINDS[kind])},
    )  # fmt: skip


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
    st.builds(
        lambda kind, free: KINDS[kind].begin(free, neat).model_dump(),
        st.sampled_from(sorted(KINDS)),
        st.floats(1.0, 3.5),
    ),
)
runs = st.builds(
    lambda start, end, pattern, **facts: a_run({"share": start}, {"share": end}, *pattern, **facts),
    st.floats(0, 0.5),
    st.floats(0.6, 1),
    st.lists(st.sampled_from(["cluster", "small"]), min_size=1, max_size=3),
    hold=st.sampled_from(["slipped", "locked", "tied"]),
    fullness=st.sampled_from([1, 0.8, 1.2]),
    taper=st.sampled_from([1, 0.7]),
    thick=st.sampled_from(["at the start", "in the middle", "at the end"]),
    lies=st.sampled_from(["all round", "in front"]),
    clusters=st.none() | st.integers(1, 30),
    features=st.sampled_from([[], [{"recipe": "small", "every": 3}]]),
)
MADE = {
    "accents": st.builds(lambda n: {"count": n}, st.integers(1, 6)) | st.just({"per_m": 1.5}),
    "features": st.just({"count": 2, "size": "24 in", "blown_m": 0.5, "fixed": "dot"}),
    "skirt": st.sampled_from(
        [
            {"clusters": 3, "recipe": "small"},
            {"recipe": "small", "width_m": 1, "depth_m": 0.4, "height_m": 0.3},
        ]
    ),
    "floaters": st.sampled_from([{"count": 4}, {"count": 3, "on": "stick"}]),
    "greenery": st.just([{"start": {"share": 0}, "end": {"share": 1}, "wrap_pitch_m": 0.4}]),
    "wraps": st.just([{"start": {"share": 0}, "end": {"share": 0.4}}]),
    "stems": st.just({"per_m": 3}),
    "tails": st.just({"count": 3, "length_m": 0.6}),
    "bows": st.just({"count": 2}),
    "passed": st.booleans(),
}
extras = st.fixed_dictionaries(
    {},
    optional={**MADE, **{k: st.just(v) for k, v in examples(without=(*MADE, "topper")).items()}},
)


@st.composite
def designs(draw: st.DrawFn) -> Any:
    support = draw(supports)
    more = draw(extras)
    if KINDS[support["kind"]].topped:
        more["topper"] = {"size": "36 in", "blown_m": 0.6}
    piece = a_piece(support, runs=[draw(runs)], **more)
    try:
        return a_design(piece, count=draw(st.integers(2, 12)), seed=draw(st.integers(0, 999)))
    except (
        Unreadable
    ) as error:  # pragma: no cover  a strategy that makes faulty designs is itself a fault
        raise AssertionError(error) from error
