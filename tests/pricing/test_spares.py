"""Spares against the binomial distribution of a reference library."""

import pytest
from scipy.stats import binom, nbinom

from pricing.core.spares import chance_enough, spares


@pytest.mark.parametrize(
    ("needed", "loss", "q", "carried", "chance", "one_less"),
    # Computed with scipy.stats: smallest N with P(Binomial(N, 1 − p) ≥ n) ≥ q.
    [
        (100, 0.02, 0.95, 105, 0.98075929, 0.94173200),
        (100, 0.05, 0.95, 109, 0.95329832, 0.90806876),
        (250, 0.03, 0.95, 263, 0.97108422, 0.94551332),
        (40, 0.05, 0.95, 45, 0.97613850, 0.93252437),
        (12, 0.10, 0.90, 15, 0.94444437, 0.84164002),
        (1000, 0.02, 0.99, 1032, 0.99320681, 0.98871887),
    ],
)
def test_spares_are_the_fewest_that_keep_the_promise(
    needed: int, loss: float, q: float, carried: int, chance: float, one_less: float
) -> None:
    assert needed + spares(needed, loss_rate=loss, run_out=1 - q) == carried
    assert chance_enough(carried, needed, loss) == pytest.approx(chance, abs=5e-9)
    assert chance_enough(carried - 1, needed, loss) == pytest.approx(one_less, abs=5e-9)
    assert carried == needed + nbinom.ppf(q, needed, 1 - loss)
    assert chance_enough(carried, needed, loss) == pytest.approx(
        binom.sf(needed - 1, carried, 1 - loss)
    )


def test_nothing_needed_or_nothing_lost_needs_no_spares() -> None:
    assert spares(0, loss_rate=0.05, run_out=0.05) == 0
    assert spares(80, loss_rate=0.0, run_out=0.05) == 0


@pytest.mark.parametrize(
    ("needed", "loss", "run_out"), [(-1, 0.1, 0.1), (1, 1.0, 0.1), (1, 0.1, 0.0)]
)
def test_impossible_figures_are_refused(needed: int, loss: float, run_out: float) -> None:
    with pytest.raises(ValueError, match="expected needed >= 0"):
        spares(needed, loss_rate=loss, run_out=run_out)
