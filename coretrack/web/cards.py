"""Cards and bench sheets: the pages that make and print them, part of the pages of labels."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import cards
from coretrack.errors import CoretrackError, InvalidInput
from coretrack.figures.plain_words import counted
from coretrack.web.files import file_answer
from coretrack.web.forms import sender
from coretrack.web.here import only, person
from coretrack.web.label_pages import CardsPage


def add_to(pages: Blueprint) -> None:
    """Add the cards to the pages of labels."""
    for rule, name, view, methods in (
        ("/cards", "cards", _home, ("GET",)),
        ("/cards/bench", "number_faults", _number_faults, ("POST",)),
        ("/cards/bench.pdf", "bench_sheet", _bench_sheet, ("GET",)),
        ("/cards/badges.pdf", "badges", _badges, ("GET",)),
        ("/cards/places", "make_places", _make_places, ("POST",)),
        ("/cards/places.pdf", "place_cards", _place_cards, ("GET",)),
    ):
        pages.add_url_rule(rule, name, view, methods=methods)


@only("clerk", "inspector")
def _home() -> str:
    """The page of cards."""
    return _page(request.args)


@only("clerk", "inspector")
def _number_faults() -> ResponseReturnValue:
    """Give the faults of the chosen families their numbers, then show the bench sheet."""
    families = request.form.getlist("family")
    try:
        cards.number_faults(
            families,
            **sender(),
        )
    except CoretrackError as error:
        return _page(request.form, error), error.status
    orders = request.form.getlist("orders") or ["no"]
    return redirect(url_for("labels.bench_sheet", family=families, orders=orders), 303)


@only("clerk", "inspector")
def _bench_sheet() -> Response:
    """The bench sheet as PDF."""
    wanted = request.args.getlist("orders") or ["yes"]
    orders = cards.DOCK_ORDERS if "yes" in wanted else ()
    at_bench = cards.BENCH_ORDERS if "bench" in wanted else ()
    return file_answer(cards.bench_sheet(request.args.getlist("family"), orders, at_bench))


@only()
def _badges() -> Response:
    """Badges as PDF; with a badge and its PIN one signs in, so only the owner prints them."""
    return file_answer(cards.badges(request.args.getlist("name")))


@only("clerk", "inspector")
def _make_places() -> ResponseReturnValue:
    """Make bins, baskets or racks and offer their cards."""
    form = request.form
    try:
        first, last = _number(form, "first"), _number(form, "last")
        made = cards.make_places(
            form.get("kind", ""),
            first,
            last,
            form.get("prefix", ""),
            **sender(),
        )
    except CoretrackError as error:
        return _page(form, error), error.status
    flash(f"{counted(made, form['kind'])} ready; print the cards below.")
    return redirect(url_for("labels.cards", kind=form["kind"], first=first, last=last), 303)


@only("clerk", "inspector")
def _place_cards() -> Response:
    """The cards of bins, baskets or racks as PDF."""
    args = request.args
    file = cards.cards_of_places(
        args.get("kind", ""), _number(args, "first"), _number(args, "last")
    )
    return file_answer(file)


def _page(told: Mapping[str, str], error: CoretrackError | None = None) -> str:
    page = CardsPage(
        title="Cards and bench sheets",
        choices=cards.card_choices(),
        owner=person().may(),
        typed={name: told.get(name, "") for name in ("kind", "first", "last", "prefix")},
        message=error.message if error else "",
        problems=error.fields if error else {},
    )
    return render_template("labels/cards.html", page=page)


def _number(told: Mapping[str, str], name: str) -> int:
    text = told.get(name, "").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 7):
        raise InvalidInput(
            f"The {name} number must be a whole number, not '{text}'.", {name: "a whole number"}
        )
    return int(text)
