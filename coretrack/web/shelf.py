"""The shelf of good bodies: what lies where, picking for a build, counting it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import shelf, stock_takes
from coretrack.actions.shelf import BIN, PICK
from coretrack.actions.shelf_views import (
    BinView,
    PickView,
    ShelfView,
    bin_view,
    pick_view,
    shelf_csv,
    shelf_view,
    spot_of_build,
)
from coretrack.actions.stock_take_views import TakeShown, TakeView, take_csv, take_view, takes_view
from coretrack.errors import Conflict, InvalidInput, NotAllowed
from coretrack.figures.scan_replies import Spot
from coretrack.web.here import doer, now, only, person

pages = Blueprint("shelf", __name__)


@dataclass(frozen=True)
class ShelfPage:
    """shelf/home.html; `typed` and `problems` are those of the form `failed`."""

    view: ShelfView
    takes: tuple[TakeShown, ...]
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    failed: str = ""
    message: str = ""
    title: str = "Shelf"


@dataclass(frozen=True)
class BinPage:
    """shelf/bin.html: one bin that bodies are put into."""

    title: str
    view: BinView


@dataclass(frozen=True)
class PickPage:
    """shelf/pick.html: one build that bodies are picked for."""

    title: str
    view: PickView


@dataclass(frozen=True)
class TakePage:
    """shelf/take.html: one stock-take; `problems` are those of the form that closes it."""

    title: str
    view: TakeView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    message: str = ""


@pages.get("/")
@only("clerk", "inspector")
def home() -> ResponseReturnValue:
    """The shelf; `at` opens one bin ("bin:CODE") or one build ("pick:WHAT") of it."""
    at = request.args.get("at", "")
    if at.startswith(BIN):
        page = _bin_page(at.removeprefix(BIN))
        return render_template("shelf/bin.html", page=page, spot=Spot("shelf", at))
    if at.startswith(PICK):
        return _pick(at.removeprefix(PICK))
    return _home(ShelfPage(shelf_view(now(), *_filter(), _part()), takes_view()))


@pages.get("/shelf.csv")
@only("clerk", "inspector")
def shelf_file() -> Response:
    """The bodies on the shelf that fit the filter, all of them, as a CSV file."""
    family, place = _filter()
    return _csv(shelf_csv(now(), family, place), "shelf")


@pages.get("/pick")
@only("clerk", "inspector")
def begin_pick() -> ResponseReturnValue:
    """Open the page of a build whose name was typed."""
    try:
        into = shelf.build_named(request.args.get("into", ""))
    except InvalidInput as error:
        return _home_again(request.args, error, "pick"), error.status
    family = request.args.get("family", "")
    return redirect(url_for("shelf.home", at=spot_of_build(into), family=family or None), 303)


@pages.post("/put-back")
@only("clerk", "inspector")
def put_back() -> ResponseReturnValue:
    """Put a picked body back on the shelf."""
    form = request.form
    try:
        flash(shelf.put_back_by_hand(form.get("tag", ""), key=form.get("key", ""), **doer()))
    except (NotAllowed, Conflict) as error:
        flash(error.message)
    return redirect(url_for("shelf.home", at=form.get("at", "") or None), 303)


@pages.post("/takes")
@only("clerk", "inspector")
def begin_take() -> ResponseReturnValue:
    """Begin a stock-take and open its page."""
    form = request.form
    try:
        code = stock_takes.begin_take(
            form.get("family", ""), form.get("place", ""), key=form.get("key", ""), **doer()
        )
    except InvalidInput as error:
        return _home_again(form, error, "take"), error.status
    return redirect(url_for("shelf.take", code=code), 303)


@pages.get("/take")
@only("clerk", "inspector")
def take() -> ResponseReturnValue:
    """One stock-take."""
    return _take(_take_page(request.args.get("code", "")))


@pages.get("/take.csv")
@only("clerk", "inspector")
def take_file() -> Response:
    """A stock-take as a CSV file."""
    code = request.args.get("code", "")
    return _csv(take_csv(code), f"stock-take-{take_view(code, person().name).code}")


@pages.post("/take")
@only("clerk", "inspector")
def close_take() -> ResponseReturnValue:
    """Close a stock-take under the name of who is signed in."""
    form, code = request.form, request.args.get("code", "")
    seen = form.get("version", "")
    try:
        counts = stock_takes.close_take(
            code,
            form.get("note", ""),
            int(seen) if seen.isascii() and seen.isdigit() else -1,
            form.get("move") == "yes",
            key=form.get("key", ""),
            **doer(),
        )
    except (InvalidInput, NotAllowed, Conflict) as error:
        shown = _take_page(code)
        problems = error.fields or {"": error.message}
        page = TakePage(shown.title, shown.view, form.to_dict(), problems, error.message)
        return _take(page), error.status
    said = ", ".join(f"{number:,} {result}" for result, number in counts.items() if number)
    flash(f"Closed by {person().name}: {said or 'nothing was there'}.")
    return redirect(url_for("shelf.take", code=code), 303)


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a shelf page and its spot, for the answer to a scan there."""
    spot = Spot("shelf", code)
    if code.startswith(BIN):
        return render_template("shelf/_bin.html", page=_bin_page(code.removeprefix(BIN))), spot
    if code.startswith(PICK):
        page = _pick_page(code.removeprefix(PICK), "")
        return render_template("shelf/_pick.html", page=page), spot
    return render_template(
        "shelf/_home.html", page=ShelfPage(shelf_view(now()), takes_view())
    ), spot


def take_part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a stock-take's page and its spot."""
    return render_template("shelf/_take.html", page=_take_page(code)), Spot("take", code)


def _filter() -> tuple[str, str | None]:
    """Return the family and the bin that are asked for; "none" is no bin, nothing is all."""
    place = request.args.get("place", "")
    return request.args.get("family", ""), {"": None, "none": ""}.get(place, place)


def _part() -> int:
    text = request.args.get("part", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 1


def _home(page: ShelfPage) -> str:
    return render_template("shelf/home.html", page=page, spot=Spot("shelf"))


def _home_again(typed: Mapping[str, str], error: InvalidInput, form: str) -> str:
    view, problems = shelf_view(now()), error.fields or {"": error.message}
    return _home(
        ShelfPage(
            view, takes_view(), {name: typed[name] for name in typed}, problems, form, error.message
        )
    )


def _bin_page(code: str) -> BinPage:
    view = bin_view(code, now())
    return BinPage(f"Into {view.name}", view)


def _pick_page(into: str, family: str) -> PickPage:
    view = pick_view(into, family, now())
    return PickPage(f"Pick for {view.into}", view)


def _pick(into: str) -> ResponseReturnValue:
    try:
        page = _pick_page(into, request.args.get("family", ""))
    except InvalidInput as error:
        return _home_again({"into": into}, error, "pick"), error.status
    spot = Spot("shelf", spot_of_build(page.view.into))
    return render_template("shelf/pick.html", page=page, spot=spot)


def _take_page(code: str) -> TakePage:
    return TakePage(f"Stock-take {code}", take_view(code, person().name))


def _take(page: TakePage) -> str:
    spot = Spot("take", page.view.code) if page.view.open else Spot("shelf")
    return render_template("shelf/take.html", page=page, spot=spot)


def _csv(content: bytes, name: str) -> Response:
    response = Response(content, mimetype="text/csv")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response
