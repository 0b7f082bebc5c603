"""Every scheme by which credits are worked out in the trade, on invented amounts.

The schemes are common practice, no source. Faults are read from a family file, so that each scheme
is one that a shop can write down.
"""

from __future__ import annotations

import tomllib
from datetime import date, timedelta
from decimal import Decimal

import pytest

from coretrack.errors import InvalidInput
from coretrack.figures.credits import (
    ACCEPT,
    PART_CREDIT,
    REFUSE,
    CreditResult,
    credit,
    effect_words,
)
from coretrack.figures.money import UNIT, from_decimal
from coretrack.figures.plan_files import Fault, family_from_toml
from coretrack.figures.settling import (
    UnitCredit,
    balance,
    balance_words,
    in_kind,
)
from coretrack.figures.windows import WindowRule, lateness

SOLD = date(2026, 3, 2)


def family(faults: str, first_line: str = "") -> dict[str, Fault]:
    """Return the faults of a family file, by code; each line gives code, name and the rest."""
    text = f'code = "F"\nname = "Body"\nmass_g = 900\nmetal = "steel"\n{first_line}\n'
    for line in faults.strip().splitlines():
        code, name, rest = (part.strip() for part in line.split("|"))
        text += f'[[faults]]\ncode = "{code}"\nname = "{name}"\n'
        text += "\n".join(rest.split(", ")) + "\n"
    text += '[[checks]]\ncode = "C"\nname = "Crack"\nkind = "crack"\nmethod = "visual"\n'
    return {fault.code: fault for fault in family_from_toml(tomllib.loads(text)).faults}


def money(text: str) -> int:
    return from_decimal(Decimal(text))


def arithmetic(result: CreditResult) -> list[str]:
    return [f"{line.text} | {Decimal(line.amount) / UNIT:.2f}" for line in result.lines]


PARTS = family(
    """
    CONN | Connector broken | effect = "parts", value = 1
    DIS | Disassembled | effect = "parts", value = 2
    RUST | Rusted solid | effect = "refuse"
    FIRE | Burnt | effect = "refuse"
    WELD | Welded | effect = "refuse"
    """,
    'part_percent = "25"',
)


@pytest.mark.parametrize(
    ("ticked", "left"),
    [("CONN", "45"), ("DIS", "30"), ("CONN DIS", "15"), ("RUST", "0"), ("CONN WELD", "0")],
)
def test_part_damage_steps(ticked: str, left: str) -> None:
    result = credit(money("60"), [PARTS[code] for code in ticked.split()])
    assert result.credit == money(left)


def test_part_damage_is_told_in_parts() -> None:
    result = credit(money("60"), [PARTS["CONN"], PARTS["DIS"]])
    assert arithmetic(result) == [
        "Core charge | 60.00",
        "Connector broken: 1 part (25 % of the charge) | -15.00",
        "Disassembled: 2 parts (50 % of the charge) | -30.00",
    ]


@pytest.mark.parametrize("code", ["RUST", "FIRE", "WELD"])
def test_rust_fire_and_weld_have_no_value(code: str) -> None:
    result = credit(money("60"), [PARTS[code]])
    assert (result.outcome, result.credit) == (REFUSE, 0)
    assert result.reasons == (PARTS[code].name,)


CUMULATIVE = family(
    """
    HW | Hardware missing | effect = "percent", value = "5"
    GEAR | Gear damaged | effect = "percent", value = "10"
    ARM | Armature frozen | effect = "percent", value = "20"
    HOUS | Housing damaged | effect = "percent", value = "35"
    CRACK | Housing cracked | effect = "percent", value = "50"
    """
)


@pytest.mark.parametrize(
    ("ticked", "left"),
    [
        ("HW", "38"),
        ("HW GEAR", "34"),
        ("HW GEAR ARM", "26"),
        ("HW GEAR ARM HOUS", "12"),
        ("GEAR ARM HOUS CRACK", "0"),
        ("HW GEAR ARM HOUS CRACK", "0"),
    ],
)
def test_cumulative_percentages_stop_at_the_charge(ticked: str, left: str) -> None:
    result = credit(money("40"), [CUMULATIVE[code] for code in ticked.split()])
    assert result.credit == money(left)
    assert sum(line.amount for line in result.lines) == result.credit


MISSING = family(
    """
    FIT | Fitting missing | effect = "money", value = "25", each = true
    SOL | Solenoid dead | effect = "money", value = "40"
    SCORE | Plunger scored | effect = "percent", value = "5", each = true
    """
)


def test_fixed_money_for_each_missing_component() -> None:
    result = credit(money("120"), [MISSING[code] for code in ("FIT", "SOL", "FIT")])
    assert arithmetic(result) == [
        "Core charge | 120.00",
        "Fitting missing: 2 at 25.00 | -50.00",
        "Solenoid dead | -40.00",
    ]
    assert result.credit == money("30")
    assert result.reasons == ("Fitting missing (2)", "Solenoid dead")


def test_more_missing_components_than_the_charge_pays_for_leave_nothing() -> None:
    result = credit(money("60"), [MISSING["FIT"]] * 3)
    assert (result.outcome, result.credit) == (REFUSE, 0)
    assert arithmetic(result)[-1] == "No more than the charge is taken off | 15.00"


def test_a_percentage_can_count_each_piece_too() -> None:
    result = credit(money("60"), [MISSING["SCORE"]] * 3)
    assert arithmetic(result)[1] == "Plunger scored: 3 at 5 % of the charge | -9.00"


BLOCK = family(
    """
    CRACK | Block visibly cracked | effect = "percent", value = "50", exclusive = true
    FIT | Fitting missing | effect = "money", value = "25"
    TURBO | Turbo missing | effect = "money", value = "600"
    """
)


def test_half_flat_for_a_cracked_block_whatever_small_things_are_missing() -> None:
    assert credit(money("900"), [BLOCK["CRACK"]]).credit == money("450")
    assert credit(money("900"), [BLOCK["CRACK"], BLOCK["FIT"]]).credit == money("450")
    # What is missing comes to more than half: a crack on top must not bring money back.
    assert credit(money("900"), [BLOCK["CRACK"], BLOCK["TURBO"]]).credit == money("300")


def older(damage: str) -> dict[str, Fault]:
    return family(
        f"""
        OLD | Older variant | effect = "money", value = "120"
        DAM | Damaged core | effect = "percent", value = "{damage}", exclusive = true
        """
    )


def test_the_damaged_core_rule_replaces_the_upgrade_charge() -> None:
    faults = older("60")
    assert credit(money("500"), [faults["OLD"]]).credit == money("380")
    assert credit(money("500"), [faults["DAM"]]).credit == money("200")
    result = credit(money("500"), list(faults.values()))
    assert result.credit == money("200")
    assert arithmetic(result) == [
        "Core charge | 500.00",
        "Damaged core: 60 % of the charge | -300.00",
        "Older variant: not added, Damaged core: 60 % of the charge replaces it | 0.00",
    ]


def test_where_damage_costs_less_than_the_upgrade_the_upgrade_charge_stands() -> None:
    # They do not add here either; but a damaged older core must not earn more than a sound one.
    faults = older("10")
    assert credit(money("500"), [faults["DAM"]]).credit == money("450")
    result = credit(money("500"), list(faults.values()))
    assert result.credit == money("380")
    assert arithmetic(result)[-1] == (
        "Damaged core: 10 % of the charge: not added, the others come to more | 0.00"
    )


THREE_WAYS = family(
    """
    TIP | Nozzle tip burnt | effect = "allowed"
    BOX | Original box missing | effect = "warning"
    DAM | Damaged | effect = "percent", value = "40", exclusive = true
    NONE | Not acceptable | effect = "refuse"
    """
)


@pytest.mark.parametrize(
    ("ticked", "outcome", "left"),
    [
        ("", ACCEPT, "85"),
        ("TIP", ACCEPT, "85"),
        ("BOX", ACCEPT, "85"),
        ("TIP BOX DAM", PART_CREDIT, "51"),
        ("TIP DAM NONE", REFUSE, "0"),
    ],
)
def test_full_damaged_or_none(ticked: str, outcome: str, left: str) -> None:
    result = credit(money("85"), [THREE_WAYS[code] for code in ticked.split()])
    assert (result.outcome, result.credit) == (outcome, money(left))


def test_what_is_tolerated_is_no_reason_and_a_warning_is_one() -> None:
    result = credit(money("85"), [THREE_WAYS["TIP"], THREE_WAYS["BOX"]])
    assert result.reasons == ("Original box missing",)
    assert arithmetic(result)[1:] == [
        "Nozzle tip burnt: allowed, nothing taken off | 0.00",
        "Original box missing: noted, nothing taken off | 0.00",
    ]


@pytest.mark.parametrize(
    ("day", "left"),
    [(30, "80"), (36, "80"), (37, "60"), (44, "40"), (51, "20"), (57, "20"), (58, "0"), (60, "0")],
)
def test_a_quarter_of_the_charge_a_week_after_day_30(day: int, left: str) -> None:
    rule = WindowRule(30, "slide", Decimal(25))
    late = lateness(rule, SOLD, SOLD + timedelta(days=day))
    assert credit(money("80"), [], late).credit == money(left)


LATE_FEE = WindowRule(35, "slide", Decimal(1), 1, slide_most=Decimal(30), nothing_after=180)


@pytest.mark.parametrize(
    ("day", "paid", "words"),
    [
        (35, "0", "nothing to pay"),
        (47, "0", "30.00 EUR to bill"),
        (47, "250", "220.00 EUR to give back"),
        (120, "250", "175.00 EUR to give back"),
        (181, "250", "nothing to pay"),
        (181, "0", "250.00 EUR to bill"),
    ],
)
def test_a_charge_billed_later_with_a_daily_late_fee(day: int, paid: str, words: str) -> None:
    late = lateness(LATE_FEE, SOLD, SOLD + timedelta(days=day))
    result = credit(money("250"), [], late)
    assert balance_words(balance(money("250"), result.credit, money(paid)), "EUR") == words


def test_a_charge_never_billed_bills_only_what_the_fault_costs() -> None:
    result = credit(money("120"), [MISSING["FIT"]])
    assert balance(money("120"), result.credit, 0) == money("25")


@pytest.mark.parametrize(("charge", "credited", "paid"), [(10, 11, 0), (10, -1, 0), (10, 5, -1)])
def test_a_balance_of_impossible_amounts_is_refused(charge: int, credited: int, paid: int) -> None:
    with pytest.raises(InvalidInput, match="check the sale"):
        balance(charge, credited, paid)


def test_core_first_earns_a_unit_and_its_faults_are_billed() -> None:
    sound, short = credit(money("120"), []), credit(money("120"), [MISSING["FIT"]] * 2)
    assert in_kind(money("120"), sound) == UnitCredit(1, 0)
    assert in_kind(money("120"), short) == UnitCredit(1, money("50"), ("Fitting missing (2)",))


def test_a_refused_core_first_earns_no_unit_and_costs_nothing() -> None:
    refused = credit(money("60"), [PARTS["FIRE"]])
    assert in_kind(money("60"), refused) == UnitCredit(0, 0, ("Burnt",))


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (CUMULATIVE["GEAR"], "10 % off"),
        (MISSING["SOL"], "40.00 EUR off"),
        (MISSING["FIT"], "25.00 EUR off each"),
        (PARTS["CONN"], "1 part off (25 %)"),
        (PARTS["DIS"], "2 parts off (50 %)"),
        (BLOCK["CRACK"], "50 % off, not added to others"),
        (PARTS["WELD"], "no credit"),
        (THREE_WAYS["BOX"], "noted only"),
        (THREE_WAYS["TIP"], "allowed"),
        (Fault("X", "X", "money", Decimal("0.0025")), "0.0025 EUR off"),
        (Fault("X", "X", "money", Decimal("1E+2")), "100.00 EUR off"),
        (Fault("X", "X", "percent", Decimal("12.50")), "12.5 % off"),
    ],
)
def test_the_list_of_faults_says_what_each_does(fault: Fault, words: str) -> None:
    assert effect_words(fault, "EUR") == words


def test_without_a_currency_the_amount_stands_alone() -> None:
    assert effect_words(MISSING["FIT"]) == "25.00 off each"


@pytest.mark.parametrize(
    ("rest", "first_line", "message"),
    [
        ('effect = "parts", value = 1', "", "give part_percent for the family"),
        ('effect = "parts", value = "1.5"', 'part_percent = "25"', "must be a whole number"),
        ('effect = "parts"', 'part_percent = "25"', "value: is missing"),
        ('effect = "parts", value = 5', 'part_percent = "25"', "more than all of the charge"),
        ('effect = "parts", value = 1', 'part_percent = "0"', "no part is worth anything"),
        ('effect = "parts", value = 1', 'part_percent = "101"', "out of range"),
        ('effect = "refuse", each = true', "", "each: has no meaning for refuse"),
    ],
)
def test_a_family_file_with_a_scheme_that_makes_no_sense_is_refused(
    rest: str, first_line: str, message: str
) -> None:
    with pytest.raises(InvalidInput, match=message):
        family(f"A | Anything | {rest}", first_line)


GUIDE = family(
    """
    CONN | Connector broken | effect = "parts", value = 1
    DIS | Taken apart | effect = "parts", value = 2
    FIVE | Five | effect = "percent", value = "5"
    TEN | Ten | effect = "percent", value = "10"
    TWENTY | Twenty | effect = "percent", value = "20"
    LARGE | Thirty-five | effect = "percent", value = "35"
    HALF | Fifty | effect = "percent", value = "50"
    FIT | Fitting missing | effect = "money", value = "12.50", each = true
    FLAT | Body cracked | effect = "percent", value = "50", exclusive = true
    OLD | Older variant | effect = "money", value = "12"
    DAM | Damaged core | effect = "percent", value = "60", exclusive = true
    MID | Damaged | effect = "percent", value = "40", exclusive = true
    """,
    'part_percent = "25"',
)


@pytest.mark.parametrize(
    ("ticked", "left"),
    [
        ("CONN DIS", "15"),
        ("FIVE TEN TWENTY", "39"),
        ("TWENTY LARGE HALF", "0"),
        ("FIT FIT", "35"),
        ("FLAT FIT", "30"),
        ("OLD", "48"),
        ("DAM", "24"),
        ("OLD DAM", "24"),
        ("MID", "36"),
    ],
)
def test_the_amounts_of_the_receiving_guide(ticked: str, left: str) -> None:
    assert credit(money("60"), [GUIDE[code] for code in ticked.split()]).credit == money(left)
