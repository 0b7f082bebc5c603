"""A family file becomes a plan, or a list of everything that is wrong with it."""

from __future__ import annotations

import copy
import datetime as dt
import json
import tomllib
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.errors import InvalidInput
from coretrack.figures.plan_files import family_from_toml
from coretrack.figures.plans import (
    Check,
    Operation,
    Plan,
    ReworkBand,
    limits_text,
    plan_differences,
    plan_from_dict,
    plan_to_dict,
)
from coretrack.figures.tolerances import Limits

FAMILY = """
code = "INV"
name = "Invented body"
mass_g = 480
metal = "steel"
standard_yield = "0.70"
credit_when = "teardown"

[prices]
new_body = "61.50"
belief = "0.95"

[[charges]]
from = 2026-03-01
amount = "30.00"

[[charges]]
from = "2025-01-01"
amount = "24.00"

[[groups]]
code = "INV-A"
name = "Short shank"

[[groups.numbers]]
number = "QX 100-1"
kind = "OE"
superseded_by = "QX 100-2"

[[groups.numbers]]
number = "QX 100-2"
kind = "OE"
from = 2024-06-01

[[faults]]
code = "rust"
name = "Rust under the nut"
effect = "percent"
value = "25"
exclusive = true

[[faults]]
code = "bent"
name = "Bent shank"
effect = "refuse"

[[checks]]
code = "bore"
name = "Guide bore"
kind = "dimension"
order = 2
unit = "mm"
resolution = "0.001"
readings = 3
judged = "each"
gauge_kind = "air gauge"
rule = "guarded"
uncertainty = "0.0015"
nominal = "6.000"
new = "6.001..6.006"
usable = "6.000 +0.009/0"
plausible = "5.900..6.100"
rework = [{ operation = "hone", limits = "6.000..6.015" }]

[[checks]]
code = "thread"
name = "Thread"
kind = "attribute"
order = 1
rework = [{ operation = "chase" }]

[[checks]]
code = "crack"
name = "Crack check"
kind = "crack"
order = 3
method = "penetrant"

[[checks]]
code = "look"
name = "Look"
kind = "look"
order = 4
look_scraps = ["C"]
look_reworks = [["B", "clean"]]

[[operations]]
code = "hone"
name = "Hone the bore"
minutes = 8
consumables = "0.70"
most_passes = 2
check = "bore"
removes = "0.002"
allowance = "0.004"
disturbs = ["crack"]

[[operations]]
code = "chase"
name = "Chase the thread"
minutes = 3
consumables = "0.10"
most_passes = 1
check = "thread"

[[operations]]
code = "clean"
name = "Clean again"
minutes = 4
consumables = "0.45"
most_passes = 2
"""


def data() -> dict[str, Any]:
    return tomllib.loads(FAMILY)


def faults_of(changed: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(InvalidInput) as caught:
        family_from_toml(changed)
    assert all(place in caught.value.message for place in caught.value.fields)
    return caught.value.fields


def test_a_family_file_is_read_in_full() -> None:
    family = family_from_toml(data(), version=3)
    assert (family.code, family.mass_g, family.metal) == ("INV", 480, "steel")
    assert family.standard_yield == Decimal("0.70")
    assert family.credit_when == "teardown"
    assert family.prices.new_body == 615_000
    assert family.prices.broker is None
    assert family.prices.belief == Decimal("0.95")
    assert family.charges == ((dt.date(2025, 1, 1), 240_000), (dt.date(2026, 3, 1), 300_000))
    assert [n.number for n in family.groups[0].numbers] == ["QX 100-1", "QX 100-2"]
    assert family.groups[0].numbers[1].valid_from == dt.date(2024, 6, 1)
    assert (family.faults[0].value, family.faults[0].exclusive) == (Decimal(25), True)
    assert (family.faults[1].value, family.faults[1].exclusive) == (Decimal(0), False)
    assert family.plan.version == 3


def test_the_plan_holds_exact_millionths() -> None:
    plan = family_from_toml(data()).plan
    bore = plan.check("bore")
    assert (bore.resolution, bore.uncertainty, bore.nominal) == (1_000, 1_500, 6_000_000)
    assert bore.usable == Limits(6_000_000, 6_009_000)
    assert bore.rework == (ReworkBand("hone", Limits(6_000_000, 6_015_000)),)
    assert [check.code for check in plan.in_order()] == ["thread", "bore", "crack", "look"]
    hone = plan.operation("hone")
    assert (hone.removes, hone.allowance, hone.disturbs) == (2_000, 4_000, ("crack",))
    assert plan.check("thread").reworked_by() == ("chase",)
    assert plan.check("look").reworked_by() == ("clean",)


def test_an_unknown_check_or_operation_is_a_key_error() -> None:
    plan = family_from_toml(data()).plan
    with pytest.raises(KeyError, match="seat"):
        plan.check("seat")
    with pytest.raises(KeyError, match="weld"):
        plan.operation("weld")


def test_a_bare_family_needs_little() -> None:
    family = family_from_toml(
        {
            "code": "X",
            "name": "X body",
            "mass_g": 100,
            "metal": "iron",
            "checks": [{"code": "crack", "name": "Crack", "kind": "crack", "method": "visual"}],
        }
    )
    assert family.standard_yield is None
    assert family.credit_when == "sight"
    assert family.prices.new_body is None
    assert (family.charges, family.groups, family.faults) == ((), (), ())


def test_everything_wrong_is_told_at_once() -> None:
    changed = data()
    changed["metal"] = 7.5
    changed["standard_yield"] = 0.7
    changed["colour"] = "red"
    changed["prices"]["new_body"] = "61,50"
    changed["checks"][0]["unit"] = "furlong"
    changed["operations"][0]["check"] = "seat"
    faults = faults_of(changed)
    assert "is not a text" in faults["metal"]
    assert "in quotes" in faults["standard_yield"]
    assert "not known here" in faults["colour"]
    assert '"61,50" is not a number' in faults["prices, new_body"]
    assert "furlong" in faults["checks bore, unit"]
    assert faults["operations hone, check"].startswith('there is no check "seat"')
    assert len(faults) == 6


def check_fault(key: str, place: str | None = None, **changes: Any) -> str:
    changed = data()
    for name, value in changes.items():
        if value is None:
            del changed["checks"][0][name]
        else:
            changed["checks"][0][name] = value
    return faults_of(changed)[place or f"checks bore, {key}"]


def test_bands_that_make_no_sense_are_refused() -> None:
    assert "reaches beyond usable 6..6.009 mm" in check_fault("new", new="5.999..6.005")
    assert "above" in check_fault("usable", usable="6.009..6.000")
    assert "is missing" in check_fault("usable", usable=None)
    inside = [{"operation": "hone", "limits": "6.001..6.008"}]
    assert "never be used" in check_fault("rework hone", rework=inside)
    apart = [{"operation": "hone", "limits": "6.011..6.020"}]
    assert "leaves a gap" in check_fault("rework hone", rework=apart)
    thin = [{"operation": "hone", "limits": "6.009..6.0115"}]
    assert "narrower than twice" in check_fault("rework hone", rework=thin)
    unknown = [{"operation": "weld", "limits": "6.009..6.020"}]
    assert 'no operation "weld"' in check_fault("rework", rework=unknown)
    bare = [{"operation": "hone"}]
    assert "is missing" in check_fault("", "checks bore, rework hone, limits", rework=bare)


def test_bands_one_gauge_step_apart_meet() -> None:
    changed = data()
    changed["checks"][0]["rework"] = [{"operation": "hone", "limits": "6.010..6.015"}]
    assert family_from_toml(changed).plan.check("bore").rework[0].limits.lower == 6_010_000


def test_numbers_of_a_check_that_make_no_sense_are_refused() -> None:
    assert "more than 0" in check_fault("uncertainty", uncertainty=None)
    assert "more than 0" in check_fault("uncertainty", uncertainty="-0.001")
    assert "no reading could pass" in check_fault("usable", uncertainty="0.005")
    assert "one has no spread" in check_fault("readings", judged="range", readings=1)
    assert "does not hold" in check_fault("plausible", plausible="6.005..6.100")
    assert "finer than a millionth" in check_fault("resolution", resolution="0.0000001")
    assert "must be more than 0" in check_fault("resolution", resolution="0")
    assert "whole number" in check_fault("readings", readings="2.5")
    assert "is not one of" in check_fault("judged", judged="median")


def test_an_open_plausible_band_need_not_hold_an_open_limit() -> None:
    changed = data()
    changed["checks"][0] |= {"usable": ">= 5.95", "plausible": "5.9..6.1", "rework": []}
    del changed["checks"][0]["new"]
    assert family_from_toml(changed).plan.check("bore").usable == Limits(5_950_000, None)


def test_a_check_without_numbers_takes_no_limits() -> None:
    changed = data()
    changed["checks"][2]["usable"] = "1..2"
    changed["checks"][2]["method"] = "guessing"
    changed["checks"][3]["look_reworks"] = [["C", "clean"]]
    changed["checks"][1]["readings"] = 2
    faults = faults_of(changed)
    assert "not known here" in faults["checks crack, usable"]
    assert "magnetic particle" in faults["checks crack, method"]
    assert "scrapped already" in faults["checks look, look_reworks"]
    assert "one result" in faults["checks thread, readings"]


def test_look_grades_are_single_letters_in_pairs() -> None:
    changed = data()
    changed["checks"][3] |= {"look_scraps": ["bad"], "look_reworks": ["B"]}
    faults = faults_of(changed)
    assert "single letters" in faults["checks look, look_scraps"]
    assert "pairs" in faults["checks look, look_reworks"]


def test_stock_and_allowance_must_fit_together() -> None:
    changed = data()
    changed["operations"][0] |= {"removes": "0.005"}
    assert "never be done once" in faults_of(changed)["operations hone, removes"]
    changed = data()
    del changed["operations"][0]["removes"]
    assert "is missing" in faults_of(changed)["operations hone, removes"]
    changed = data()
    del changed["operations"][0]["check"]
    assert "loses the stock" in faults_of(changed)["operations hone, check"]
    changed = data()
    changed["operations"][1] |= {"check": "bore", "removes": "0.001", "allowance": "0.009"}
    assert "one allowance" in faults_of(changed)["operations chase, allowance"]
    changed = data()
    changed["operations"][1]["removes"] = "0.001"
    assert "not measured" in faults_of(changed)["operations chase, removes"]


def test_one_thing_one_name_and_one_number_one_group() -> None:
    changed = data()
    changed["checks"][1]["code"] = "bore"
    assert "more than one check" in faults_of(changed)["checks bore, code"]
    changed = data()
    changed["checks"][1]["name"] = "BORE"
    assert "already another check" in faults_of(changed)["checks thread, name"]
    changed = data()
    changed["groups"].append(
        {"code": "INV-B", "name": "Long", "numbers": [{"number": "qx-1001", "kind": "OE"}]}
    )
    place = "groups INV-B, numbers qx-1001, number"
    assert "stands in group INV-A already" in faults_of(changed)[place]


def test_numbers_charges_and_criteria_are_checked() -> None:
    changed = data()
    changed["charges"][1]["from"] = "2026-03-01"
    changed["groups"][0]["numbers"][0]["superseded_by"] = "qx1001"
    changed["faults"][0]["value"] = "120"
    changed["faults"][1]["value"] = "5"
    changed["mass_g"] = "480.5"
    faults = faults_of(changed)
    assert "at another charge already" in faults["charges no. 2, from"]
    assert "the number itself" in faults["groups INV-A, numbers QX 100-1, superseded_by"]
    assert "0 to 100" in faults["faults rust, value"]
    assert "no meaning for refuse" in faults["faults bent, value"]
    assert "whole number" in faults["mass_g"]


def test_dates_and_shapes_that_cannot_be_read_are_told() -> None:
    changed = data()
    changed["charges"][0]["from"] = "1 March"
    changed["charges"][1]["from"] = dt.datetime(2026, 3, 1, 8, 0)  # noqa: DTZ001
    changed["prices"] = "none"
    changed["groups"] = {"code": "INV-A"}
    changed["faults"][0]["exclusive"] = "yes"
    faults = faults_of(changed)
    assert "write it like 2026-05-04" in faults["charges no. 1, from"]
    assert "write it like 2026-05-04" in faults["charges no. 2, from"]
    assert "[prices]" in faults["prices"]
    assert "[[groups]]" in faults["groups"]
    assert "true or false" in faults["faults rust, exclusive"]


def test_a_file_without_checks_is_refused() -> None:
    changed = data()
    del changed["checks"]
    del changed["operations"]
    assert "one check at least" in faults_of(changed)["checks"]


SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
JUNK = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=5,
)


def places(tree: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    if isinstance(tree, dict):
        for key, value in tree.items():
            found += places(value, (*path, key))
    if isinstance(tree, list):
        for index, value in enumerate(tree):
            found += places(value, (*path, index))
    return found


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(places(tomllib.loads(FAMILY))), JUNK)
def test_junk_anywhere_in_the_file_is_told_and_never_breaks_the_reader(
    path: tuple[Any, ...], junk: Any
) -> None:
    changed: Any = copy.deepcopy(data())
    spot = changed
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = junk
    family, told = None, {}
    try:
        family = family_from_toml(changed)
    except InvalidInput as error:
        told = error.fields
    assert bool(told) != (family is not None)
    if family is not None:
        assert plan_from_dict(plan_to_dict(family.plan)) == family.plan


# --- storage and differences -------------------------------------------------------------------

ENDS = st.none() | st.integers(-(10**12), 10**12)


@st.composite
def some_limits(draw: st.DrawFn) -> Limits:
    lower, upper = draw(ENDS), draw(ENDS)
    if lower is not None and upper is not None:
        lower, upper = min(lower, upper), max(lower, upper)
    return Limits(lower, upper)


WORDS = st.text(max_size=6)
CHECKS = st.builds(
    Check,
    code=WORDS,
    name=WORDS,
    kind=WORDS,
    order=st.integers(0, 99),
    unit=WORDS,
    resolution=ENDS,
    new=st.none() | some_limits(),
    usable=st.none() | some_limits(),
    rework=st.lists(st.builds(ReworkBand, WORDS, some_limits()), max_size=2).map(tuple),
    plausible=st.none() | some_limits(),
    nominal=ENDS,
    look_scraps=st.lists(WORDS, max_size=2).map(tuple),
    look_reworks=st.lists(st.tuples(WORDS, WORDS), max_size=2).map(tuple),
)
OPERATIONS = st.builds(
    Operation,
    code=WORDS,
    name=WORDS,
    minutes=st.integers(0, 99),
    consumables=st.integers(0, 10**6),
    most_passes=st.integers(1, 9),
    disturbs=st.lists(WORDS, max_size=2).map(tuple),
)
PLANS = st.builds(
    Plan,
    WORDS,
    st.integers(1, 9),
    st.lists(CHECKS, max_size=3).map(tuple),
    st.lists(OPERATIONS, max_size=2).map(tuple),
)


@settings(deadline=None)
@given(PLANS)
def test_a_plan_survives_storage_as_json(plan: Plan) -> None:
    stored = json.loads(json.dumps(plan_to_dict(plan)))
    assert stored == plan_to_dict(plan)
    assert plan_from_dict(stored) == plan
    assert plan_differences(plan, plan_from_dict(stored)) == ()


def test_a_stored_plan_that_is_damaged_is_told() -> None:
    stored = plan_to_dict(family_from_toml(data()).plan)
    del stored["checks"][0]["usable"]
    with pytest.raises(InvalidInput, match="usable"):
        plan_from_dict(stored)
    with pytest.raises(InvalidInput, match="cannot be read"):
        plan_from_dict({"family": "X", "version": 1, "checks": 3, "operations": []})


def test_differences_are_told_in_the_shops_words() -> None:
    changed = data()
    changed["checks"][0]["usable"] = "6.000..6.010"
    changed["checks"][0]["rework"] = []
    changed["operations"][0]["consumables"] = "0.80"
    changed["operations"][0]["removes"] = "0.001"
    del changed["checks"][3]
    changed["checks"].append(
        {"code": "flow", "name": "Flow", "kind": "count", "unit": "count", "usable": "<= 15"}
    )
    old, new = family_from_toml(data()).plan, family_from_toml(changed, version=2).plan
    assert plan_differences(old, new) == (
        "check Look was taken out",
        "check Guide bore: usable was 6..6.009 mm, is now 6..6.01 mm",
        "check Guide bore: rework was hone 6..6.015 mm, is now not set",
        "check Flow is new",
        "operation Hone the bore: consumables was 0.70, is now 0.80",
        "operation Hone the bore: removes was 0.002, is now 0.001",
    )


def test_limits_are_written_as_a_shop_writes_them() -> None:
    assert limits_text(Limits(None, 300_000), "mm") == "<= 0.3 mm"
    assert limits_text(Limits(55_000_000, None), "HRC") == ">= 55 HRC"
    assert limits_text(Limits(0, 15_000_000), "count") == "0..15"
    assert limits_text(Limits(None, None)) == "–"
    assert limits_text(None) == "–"
