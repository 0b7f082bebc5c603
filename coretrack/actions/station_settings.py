"""What the owner sets for the stations: stocks, paper, the print command, hold and idle times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from coretrack.actions.station_labels import CARD_LAYOUT
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.labels import SheetStock
from coretrack.figures.second_looks import share_from
from coretrack.figures.trade_objects import Shop
from coretrack.paper.label_files import load_stocks
from coretrack.records import queries
from coretrack.records.database import connection
from coretrack.records.writer import writing

FILE_MARK = "{file}"
"""Stands in the print command where the path of the PDF belongs."""

PAPER_SIZES = ("a4", "letter")

_MOST_WORDS, _LONGEST_WORD = 40, 400


@dataclass(frozen=True)
class StationSettings:
    """The shop's settings that stations go by; the command is one argument an entry, or empty.

    `second_look_percent` is the share of verdicts that are drawn for a blind second look.
    """

    print_command: tuple[str, ...]
    label_stock: str
    sheet_stock: str
    paper_size: str
    hold_days: int
    idle_minutes: int
    second_look_percent: str = "0"


def station_settings() -> StationSettings:
    """Return what is set now."""
    with connection():
        shop = queries.shop() or Shop("shop")
    return StationSettings(
        tuple(shop.print_command),
        shop.label_stock,
        shop.sheet_stock,
        shop.paper_size,
        shop.hold_days,
        shop.idle_minutes,
        shop.second_look_percent,
    )


def change_settings(
    told: StationSettings, *, by: str, station: str, now: datetime, key: str
) -> tuple[str, ...]:
    """Store the settings that differ; return their names. InvalidInput names every wrong field.

    The same `key` again changes nothing and answers the same.
    """
    wrong = _wrong_fields(told)
    if wrong:
        said = "; ".join(f"{field.replace('_', ' ')}: {why}" for field, why in wrong.items())
        raise InvalidInput(f"The settings were not stored. {said}.", wrong)
    told = replace(told, second_look_percent=share_from(told.second_look_percent))
    with writing(by, now, station) as writer:
        if key and (answer := writer.answers([key]).get(key)) is not None:
            return tuple(name for name in answer.split(",") if name)
        shop: Shop | None = writer.find("shop", "shop")
        if shop is None:
            raise NotAllowed("The shop is not set up yet; run setup first.")
        fields = {
            "print_command": list(told.print_command),
            "label_stock": told.label_stock,
            "sheet_stock": told.sheet_stock,
            "paper_size": told.paper_size,
            "hold_days": told.hold_days,
            "idle_minutes": told.idle_minutes,
            "second_look_percent": told.second_look_percent,
        }
        changed = {
            name: value for name, value in fields.items() if getattr(told, name) != _now(shop, name)
        }
        if changed:
            writer.event("shop", "shop", "set", changed)
        if key:
            writer.remember(key, ",".join(changed))
        return tuple(changed)


def command_from_lines(typed: str) -> tuple[str, ...]:
    """Return the print command that was typed one argument a line; empty lines are left out."""
    return tuple(line.strip() for line in typed.splitlines() if line.strip())


def _now(shop: Shop, name: str) -> object:
    value: object = getattr(shop, name)
    return tuple(shop.print_command) if name == "print_command" else value


def _wrong_fields(told: StationSettings) -> dict[str, str]:
    wrong = {}
    why = _wrong_command(told.print_command)
    if why:
        wrong["print_command"] = why
    stocks = {name: stock for name, stock in load_stocks().items() if stock.layout != CARD_LAYOUT}
    sheets = [name for name, stock in stocks.items() if isinstance(stock, SheetStock)]
    if told.label_stock not in stocks:
        wrong["label_stock"] = f"choose {', '.join(stocks)}"
    if told.sheet_stock not in sheets:
        wrong["sheet_stock"] = f"choose {', '.join(sheets)}"
    if told.paper_size not in PAPER_SIZES:
        wrong["paper_size"] = f"choose {' or '.join(PAPER_SIZES)}"
    if not 0 <= told.hold_days <= 3650:
        wrong["hold_days"] = "0 to 3650 days"
    if not 1 <= told.idle_minutes <= 480:
        wrong["idle_minutes"] = "1 to 480 minutes"
    try:
        share_from(told.second_look_percent)
    except ValueError as error:
        wrong["second_look_percent"] = str(error)
    return wrong


def _wrong_command(command: Sequence[str]) -> str:
    if not command:
        return ""
    if len(command) > _MOST_WORDS or any(len(word) > _LONGEST_WORD for word in command):
        return f"at most {_MOST_WORDS} lines of {_LONGEST_WORD} signs"
    if any("\0" in word for word in command):
        return "it holds a sign that no command can hold"
    if FILE_MARK in command[0]:
        return "the first line is the program; the file comes after it"
    if not any(FILE_MARK in word for word in command[1:]):
        return f"one line must hold {FILE_MARK}, where the path of the PDF belongs"
    return ""
