"""What holds for every verdict, whatever the kind of check, its rule, and which way it wears."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures.grading import verdict
from coretrack.figures.observations import Observation
from coretrack.figures.plans import NUMERIC_KINDS, Check, Operation, Plan, ReworkBand
from coretrack.figures.rework import BodyHistory
from coretrack.figures.tolerances import Limits

NOMINAL = 20_000_000
WIDEST = 60_000

GRIND = Operation("grind", "Grind", 8, 7_000, 3, "size", 2_000, 6_000)
COAT = Operation("coat", "Coat and grind", 20, 30_000, 1, "size")
CRACK = Check("crack", "Crack check", "crack", 2, method="penetrant")
NO_CRACK = Observation("crack", result="none")

WORSE = {"keep": 0, "rework": 1, "scrap": 2}

gaps = st.integers(0, WIDEST)


@st.composite
def sizes(draw: st.DrawFn, *, both: bool = True) -> Check:
    """A check of any kind with numbers: usable within bands of rework, one-sided or two-sided."""
    low, high = NOMINAL - draw(gaps), NOMINAL + draw(gaps)
    ground = (low - draw(gaps), high + draw(gaps))
    coated = (ground[0] - draw(gaps), ground[1] + draw(gaps))
    side = draw(st.sampled_from(["both", "lower", "upper"] if both else ["lower", "upper"]))

    def limits(lower: int, upper: int) -> Limits:
        return Limits(None if side == "upper" else lower, None if side == "lower" else upper)

    bands = (ReworkBand("grind", limits(*ground)), ReworkBand("coat", limits(*coated)))
    return Check(
        "size",
        "Size",
        draw(st.sampled_from(NUMERIC_KINDS)),
        1,
        "mm",
        1_000,
        readings=draw(st.integers(1, 3)),
        judged=draw(st.sampled_from(["each", "max", "min", "mean"])),
        rule=draw(st.sampled_from(["simple", "guarded"])),
        uncertainty=draw(st.integers(0, 5_000)),
        usable=limits(low, high),
        rework=bands[: draw(st.integers(0, 2))],
    )


def grade(check: Check, *values: int, lives: BodyHistory | None = None) -> str:
    plan = Plan("FAM", 1, (check, CRACK), (GRIND, COAT))
    found = [Observation("size", values), NO_CRACK]
    return verdict(plan, found, lives or BodyHistory({}, {})).grade


def filled(check: Check, value: int) -> tuple[int, ...]:
    return (value,) * check.readings


def ends(limits: Limits | None) -> list[tuple[int, int]]:
    """Return each limit with the step that leads out over it."""
    assert limits is not None
    found = [(limits.lower, -1), (limits.upper, 1)]
    return [(limit, step) for limit, step in found if limit is not None]


@settings(deadline=None)
@given(sizes())
def test_a_reading_exactly_at_a_usable_limit_is_inside_and_a_millionth_beyond_is_not(
    check: Check,
) -> None:
    check = replace(check, rule="simple")
    for limit, out in ends(check.usable):
        assert grade(check, *filled(check, limit)) == "keep"
        assert grade(check, *filled(check, limit + out)) in ("rework", "scrap")


@settings(deadline=None)
@given(sizes())
def test_a_reading_exactly_at_the_last_rework_limit_is_rework_and_beyond_is_scrap(
    check: Check,
) -> None:
    check = replace(check, rule="simple")
    if not check.rework:
        return
    for limit, out in ends(check.rework[-1].limits):
        assert grade(check, *filled(check, limit)) in ("keep", "rework")
        assert grade(check, *filled(check, limit + out)) == "scrap"


@settings(deadline=None)
@given(sizes(), st.integers(NOMINAL - 4 * WIDEST, NOMINAL + 4 * WIDEST))
def test_the_guarded_rule_keeps_and_scraps_only_what_the_simple_one_does(
    check: Check, value: int
) -> None:
    careful = grade(replace(check, rule="guarded"), *filled(check, value))
    plain = grade(replace(check, rule="simple"), *filled(check, value))
    assert careful in (plain, "undecided", "rework")
    if careful != plain:
        assert (careful, plain) != ("rework", "scrap")
        assert careful == "undecided" or plain == "rework"


@settings(deadline=None)
@given(
    sizes(both=False),
    st.lists(st.integers(-3 * WIDEST, 3 * WIDEST), min_size=3, max_size=3),
    st.lists(st.integers(0, 2 * WIDEST), min_size=3, max_size=3),
    st.fixed_dictionaries({"size": st.integers(0, 6_000)}),
    st.fixed_dictionaries({code: st.integers(0, 3) for code in ("grind", "coat")}),
)
def test_more_wear_never_improves_a_verdict_whichever_way_it_goes(
    check: Check,
    found: list[int],
    wear: list[int],
    removed: dict[str, int],
    done: dict[str, int],
) -> None:
    """A shaft wears smaller, a bore wider: away from the nominal over the one limit there is."""
    assert check.usable is not None
    out = 1 if check.usable.lower is None else -1
    fresh = [NOMINAL + gap for gap in found[: check.readings]]
    worn = [size + out * more for size, more in zip(fresh, wear, strict=False)]
    lives = BodyHistory(removed, done)
    before, after = grade(check, *fresh, lives=lives), grade(check, *worn, lives=lives)
    # Undecided says that two neighbouring grades are possible; it is compared at the ends.
    if "undecided" not in (before, after):
        assert WORSE[after] >= WORSE[before]
    if before != "keep":
        assert after != "keep"
    if before == "scrap":
        assert after == "scrap"


@settings(deadline=None)
@given(sizes(), st.data())
def test_a_check_with_a_reading_too_few_is_never_kept(check: Check, data: st.DataObject) -> None:
    few = data.draw(st.integers(0, check.readings - 1))
    assert grade(check, *(NOMINAL,) * few) == "open"
    unsure = [Observation("size", filled(check, NOMINAL), "unsure"), NO_CRACK]
    plan = Plan("FAM", 1, (check, CRACK), (GRIND, COAT))
    assert verdict(plan, unsure).grade == "undecided"
    for seen in ("indication", "unsure", ""):
        cracked = [
            Observation("size", filled(check, NOMINAL)),
            Observation("crack", result=seen),
        ]
        assert verdict(plan, cracked).grade != "keep"
