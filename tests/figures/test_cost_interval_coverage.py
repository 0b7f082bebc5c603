"""How often the shown interval of the cost per good body holds the true cost.

Yields of lots differ by 0.10. Twelve lots, whose prices differ by a tenth as well, take the ratio
over lots. Six take the yield's interval, which is widened only once the lots' spread shows: six do
not always show it, so that it holds the truth in 88 of 100 and not 95; without widening the
variance is 2.8 times what is assumed, and it would be 76.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from coretrack.figures.costing import CostParts, cost_row
from coretrack.figures.dispersion import Batch
from coretrack.figures.yields import Counts, yield_row

A, B, SIZE, PRICE = 14, 7, 40, 270_000


def _row(random: np.random.Generator, lots: int, price_spread: float):
    goods = random.binomial(SIZE, random.beta(A, B, size=lots))
    prices = np.rint(PRICE * random.normal(1, price_spread, size=lots))
    batches = [
        Batch(str(n), SIZE, int(good), int(price) * SIZE)
        for n, (good, price) in enumerate(zip(goods, prices, strict=True))
    ]
    good, decided = int(goods.sum()), SIZE * lots
    counts = Counts(decided, decided, good, 0, decided - good)
    spent = sum(batch.cost for batch in batches)
    return cost_row(yield_row("INJ", counts, batches), CostParts(price=spent), batches)


@pytest.mark.parametrize(("lots", "price_spread", "least"), [(12, 0.1, 0.93), (6, 0.0, 0.85)])
def test_the_interval_holds_the_true_cost_about_as_often_as_it_says(
    lots: int, price_spread: float, least: float
) -> None:
    random = np.random.default_rng(61)
    runs, inside = 800, 0
    truth = PRICE / (A / (A + B))
    for _ in range(runs):
        row = _row(random, lots, price_spread)
        assert row.cost_low is not None
        assert row.cost_high is not None
        inside += row.cost_low <= truth <= row.cost_high
    sys.stdout.write(f"\ncost interval over {lots} lots: {inside / runs:.3f} for 0.95\n")
    assert least <= inside / runs <= 0.98
