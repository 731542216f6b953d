"""How many to carry so that running out is unlikely."""

from __future__ import annotations

from scipy.special import betainc


def chance_enough(carried: int, needed: int, loss_rate: float) -> float:
    """P(at least `needed` of `carried` survive), each lost with chance `loss_rate` on its own.

    P(Binomial(N, 1 − p) ≥ n) = I_{1−p}(n, N − n + 1) (DLMF 8.17.5).
    """
    if needed == 0:
        return 1.0
    return float(betainc(needed, carried - needed + 1, 1 - loss_rate))


def spares(needed: int, *, loss_rate: float, run_out: float) -> int:
    """Fewest spares with a chance of running out of at most `run_out`.

    Spares are lost like the others, hence negative binomial and not a flat percentage.
    ValueError unless needed ≥ 0, 0 ≤ loss_rate < 1 and 0 < run_out < 1.

    >>> spares(100, loss_rate=0.02, run_out=0.05)
    5
    """
    if needed < 0 or not 0 <= loss_rate < 1 or not 0 < run_out < 1:
        raise ValueError(
            "expected needed >= 0, 0 <= loss_rate < 1, 0 < run_out < 1; "
            f"got {needed}, {loss_rate}, {run_out}"
        )
    more = 0
    while chance_enough(needed + more, needed, loss_rate) < 1 - run_out:
        more += 1
    return more
