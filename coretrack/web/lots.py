"""Purchased lots: begun, weighed, sorted into families, taken in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import lot_beginning, lot_estimates, lot_sorting, lot_taking_in
from coretrack.actions.lot_beginning import NewLot
from coretrack.actions.lot_estimates import Weighing
from coretrack.actions.lot_sorting import RowChange
from coretrack.actions.lot_views import LotsView, LotView, lot_view, lots_view
from coretrack.errors import Conflict, InvalidInput, NotAllowed
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import Spot
from coretrack.web.forms import problems_of, sender
from coretrack.web.here import now, only, person

pages = Blueprint("lots", __name__)


@dataclass(frozen=True)
class LotsPage:
    """lots/overview.html; `typed` and `problems` by field are those of the form that came back."""

    title: str
    view: LotsView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class LotPage:
    """lots/lot.html; `failed` names the form that came back: row, weigh, take in or other."""

    title: str
    view: LotView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    failed: str = ""

    def of(self, form: str) -> LotPage:
        """Return the page as one of its forms sees it: only its own typed texts and problems."""
        return self if form == self.failed else LotPage(self.title, self.view)


@pages.get("/")
@only("clerk")
def overview() -> ResponseReturnValue:
    """Show the lots being sorted, the last ones, and the form that begins one."""
    return _overview(LotsPage("Purchased lots", lots_view(now())))


@pages.post("/")
@only("clerk")
def begin() -> ResponseReturnValue:
    """Begin a lot and open its page."""
    typed = request.form.to_dict()
    told = NewLot(**{part.name: typed.get(part.name, "") for part in fields(NewLot)})
    try:
        code = lot_beginning.begin(told, **sender())
    except (InvalidInput, NotAllowed) as error:
        problems = problems_of(error)
        page = LotsPage("Purchased lots", lots_view(now()), typed, problems)
        return _overview(page), error.status
    flash(f"Lot {code} is begun. Scan the first piece.")
    return _to(code)


@pages.get("/lot")
@only("clerk")
def lot() -> ResponseReturnValue:
    """Show one lot: sort it, or see what it came to."""
    return _lot(_page(request.args.get("code", "")))


@pages.post("/row")
@only("clerk")
def row() -> ResponseReturnValue:
    """Change a row's count, mass or serial by hand."""
    told = RowChange(*(request.form.get(name) for name in ("count", "mass", "serial")))
    row_id = request.form.get("row", "")

    def act(code: str) -> None:
        lot_sorting.change_row(code, row_id, told, **sender())

    return _act("row", act)


@pages.post("/unknown")
@only("clerk")
def unknown() -> ResponseReturnValue:
    """Count one piece whose number is not known or cannot be read."""
    text = request.form.get("text", "")

    def act(code: str) -> None:
        lot_sorting.add_unknown(code, text, **sender())

    return _act("unknown", act)


@pages.post("/undo")
@only("clerk")
def undo() -> ResponseReturnValue:
    """Take back what this person sorted last."""

    def act(code: str) -> None:
        flash(f"Taken back: {lot_sorting.undo(code, **sender())}.")

    return _act("undo", act)


@pages.post("/weigh")
@only("clerk")
def weigh() -> ResponseReturnValue:
    """Keep the weigh ticket and the sample, and estimate the pieces."""
    told = Weighing(**{part.name: request.form.get(part.name, "") for part in fields(Weighing)})

    def act(code: str) -> None:
        estimate = lot_estimates.weigh(code, told, **sender())
        flash(f"By weight: {lot_estimates.estimate_words(estimate)}.")

    return _act("weigh", act)


@pages.post("/take-in")
@only("clerk")
def take_in() -> ResponseReturnValue:
    """Make cores of everything that was sorted and close the lot."""
    version = request.form.get("version", "")
    confirmed = request.form.get("confirmed") == "yes"

    def act(code: str) -> None:
        seen = int(version) if version.isascii() and version.isdigit() else -1
        pieces = lot_taking_in.take_in(code, seen, confirmed, **sender())
        flash(f"{counted(pieces, 'core')} of lot {code} came in. Print the labels now.")

    return _act("take in", act)


@pages.post("/give-up")
@only("clerk")
def give_up() -> ResponseReturnValue:
    """Give up a lot of which nothing was sorted."""

    def act(code: str) -> None:
        lot_beginning.give_up(code, **sender())
        flash(f"Lot {code} was given up; nothing of it came in.")

    return _act("give up", act)


def lot_part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a lot's page and its spot, for the answer to a scan there."""
    return render_template("lots/_lot.html", page=_page(code)), Spot("lot", code)


def _act(form: str, act: Callable[[str], None]) -> ResponseReturnValue:
    """Run an action on the lot of the address; show its page again with what was wrong."""
    code = request.args.get("code", "")
    try:
        act(code)
    except (InvalidInput, NotAllowed, Conflict) as error:
        problems = problems_of(error)
        shown = _page(code)
        page = LotPage(shown.title, shown.view, request.form.to_dict(), problems, form)
        return _lot(page), error.status
    return _to(code)


def _page(code: str) -> LotPage:
    return LotPage(f"Lot {code}", lot_view(code, person().name, now()))


def _overview(page: LotsPage) -> str:
    return render_template("lots/overview.html", page=page)


def _lot(page: LotPage) -> str:
    if not page.view.sorting:
        return render_template("lots/lot.html", page=page)
    return render_template("lots/lot.html", page=page, spot=Spot("lot", page.view.code))


def _to(code: str) -> ResponseReturnValue:
    return redirect(url_for("lots.lot", code=code), 303)
