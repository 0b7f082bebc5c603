"""Control charts of a share over lots."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.control_charts import Sample, chosen_chart, p_chart

CANS = "12 15 8 10 4 7 16 9 14 10 5 6 17 12 22 8 10 5 13 11 20 18 24 15 9 12 7 13 9 6"
SEEN = (
    "266501 264225 276532 281461 269071 261215 270409 279778 270483 270320 267923 271478 255353"
    " 256820 261835 259144 255910 260863 264465 260989"
)
ALL = (
    "280443 276823 291681 296155 282343 275888 283867 295251 284468 282529 279618 283932 266629"
    " 268091 276803 271578 266005 273520 278574 273772"
)


def test_lumpy_limits_of_weekly_patients_seen_in_four_hours() -> None:
    """Data of M. A. Mohammed and others, Qual. Saf. Health Care 22 (2013) 362; limits ours."""
    samples = [
        Sample(str(week), int(n), int(seen))
        for week, (seen, n) in enumerate(zip(SEEN.split(), ALL.split(), strict=True), start=1)
    ]
    plain, lumpy = p_chart(samples), p_chart(samples, lumpy=True)
    assert len(plain.beyond) == 16
    assert len(lumpy.beyond) == 0
    assert lumpy.centre == pytest.approx(0.95289971, abs=5e-9)
    assert lumpy.sigma_z == pytest.approx(10.640422, abs=5e-7)
    first = lumpy.points[0]
    assert (first.lower, first.upper) == pytest.approx((0.940130, 0.965670), abs=5e-7)
    first = plain.points[0]
    assert (first.lower, first.upper) == pytest.approx((0.951700, 0.954100), abs=5e-7)


def test_lumpy_limits_of_cans() -> None:
    samples = [Sample(str(n), 50, int(count)) for n, count in enumerate(CANS.split())]
    chart = p_chart(samples, lumpy=True)
    assert chart.sigma_z == pytest.approx(1.660867, abs=5e-7)
    assert chart.points[0].lower == 0.0
    assert chart.points[0].upper == pytest.approx(0.528472, abs=5e-7)


def test_a_small_lot_has_wider_limits_than_a_large_one() -> None:
    chart = p_chart([Sample("large", 400, 100), Sample("small", 20, 5)])
    large, small = chart.points
    assert small.upper > large.upper
    assert small.lower < large.lower


def test_a_lot_without_decided_cores_has_no_point() -> None:
    chart = p_chart([Sample("L1", 0, 0), Sample("L2", 10, 3)])
    assert [point.name for point in chart.points] == ["L2"]


def test_nothing_decided_gives_no_chart_and_a_reason() -> None:
    chart = p_chart([Sample("L1", 0, 0)])
    assert chart.centre is None
    assert chart.points == ()
    assert chart.why == "no decided core yet"


def test_one_sample_cannot_show_lumps_and_gets_plain_limits() -> None:
    chart = p_chart([Sample("L1", 40, 10)], lumpy=True)
    assert chart.method == "p"
    assert chart.sigma_z is None


def test_a_share_of_exactly_zero_lies_on_its_limits_and_inside() -> None:
    chart = p_chart([Sample("L1", 40, 0), Sample("L2", 30, 0)])
    assert chart.centre == 0.0
    assert chart.beyond == ()


def test_the_chart_is_chosen_by_how_samples_differ_and_says_why() -> None:
    lumpy = chosen_chart([Sample(str(n), 50, int(count)) for n, count in enumerate(CANS.split())])
    assert lumpy.chart.method == "p′"
    assert lumpy.reason.endswith("these are 1.7 times as wide")
    steady = chosen_chart([Sample(str(n), 50, 12 + n % 2) for n in range(12)])
    assert steady.chart.method == "p"
    assert steady.reason == "p chart: the samples differ no more than chance explains"


def test_a_sample_left_out_does_not_choose_the_chart() -> None:
    samples = [*(Sample(str(n), 50, 12 + n % 2) for n in range(12)), Sample("fire", 50, 50)]
    assert chosen_chart(samples).chart.method == "p′"
    assert chosen_chart(samples, left_out=("fire",)).chart.method == "p"


def test_nothing_to_choose_from_says_so() -> None:
    assert chosen_chart([]).reason == "no decided core yet"
    few = chosen_chart([Sample("L1", 3, 1)])
    assert few.reason == "p chart: fewer than two lots have 5 or more decided cores"


@given(
    st.lists(
        st.integers(1, 200).flatmap(lambda n: st.integers(0, n).map(lambda k: Sample("lot", n, k))),
        min_size=1,
        max_size=20,
    ),
    st.booleans(),
)
def test_limits_hold_the_centre_and_stay_within_zero_and_one(
    samples: list[Sample], lumpy: bool
) -> None:
    chart = p_chart(samples, lumpy=lumpy)
    assert chart.centre is not None
    for point in chart.points:
        assert 0 <= point.lower <= chart.centre <= point.upper <= 1
        assert point.beyond == (point.rate < point.lower or point.rate > point.upper)
