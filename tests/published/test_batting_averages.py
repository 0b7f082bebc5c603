"""18 batters after 45 times at bat: B. Efron and C. Morris, Scientific American 236 (1977) 119.

Hits and later averages in CRAN package `pscl` (`EfronMorris`). The article prints mean .265, factor
.212 and the drawn-in averages; from exact averages four of them move by .001. The squared errors
printed, .077 and .022, are .0753 and .0213 by our count; their ratio 3.5 agrees.
"""

from __future__ import annotations

import pytest

from coretrack.figures.shrinkage import efron_morris, likelihood_prior, shrunken

HITS = (18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7)
LATER = ".346 .298 .276 .222 .273 .270 .263 .210 .269 .230 .264 .256 .303 .264 .226 .285 .316 .200"
PRINTED = (
    ".294 .289 .284 .279 .275 .275 .270 .265 .261 .261 .256 .256 .256 .256 .256 .251 .247 .242"
)


def _squares(rates: list[float]) -> float:
    later = [float(text) for text in LATER.split()]
    return sum((rate - truth) ** 2 for rate, truth in zip(rates, later, strict=True))


def test_factor_mean_and_drawn_in_averages() -> None:
    plain = [hits / 45 for hits in HITS]
    factor, drawn = efron_morris(plain, 45)
    assert sum(plain) / 18 == pytest.approx(0.265, abs=5e-4)
    assert factor == pytest.approx(0.212, abs=5e-4)
    assert drawn == pytest.approx([float(text) for text in PRINTED.split()], abs=1e-3)
    assert _squares(plain) / _squares(drawn) == pytest.approx(3.5, abs=0.05)


def test_the_beta_binomial_way_draws_in_about_as_much_and_does_as_well() -> None:
    prior = likelihood_prior([(hits, 45) for hits in HITS])
    drawn = [shrunken(hits, 45, prior).rate for hits in HITS]
    known = [rate for rate in drawn if rate is not None]
    assert len(known) == 18
    assert _squares([hits / 45 for hits in HITS]) / _squares(known) > 3
