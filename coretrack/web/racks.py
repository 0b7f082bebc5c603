"""Racks of crack checks: the cores in one, their count, the exceptions; all others stored."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import racks
from coretrack.actions.rack_views import RacksView, RackView, rack_view, racks_view
from coretrack.errors import Conflict, InvalidInput, NotAllowed, NotFound
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.web.forms import sender, summed_up
from coretrack.web.here import now, only, person
from coretrack.web.panel import Panel

pages = Blueprint("racks", __name__)

SPOT = "rack"


@dataclass(frozen=True)
class RacksPage:
    """bench/racks.html: all racks at work."""

    view: RacksView
    title: str = "Racks for crack checks"


@dataclass(frozen=True)
class RackPage:
    """bench/rack.html: one rack; `typed` and `problems` are those of its form for the count."""

    title: str
    view: RackView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def panel(self) -> Panel | None:
        """What the panel says while nothing was just scanned: what the rack waits for."""
        view = self.view
        held = counted(len(view.cores), "core")
        if view.asked:
            line = f"{view.none} with no indication, {view.indications} with an indication, "
            return Panel("ask", "STORE?", f"{line}{view.unsure} unsure. Enter stores it.")
        if view.stage == "counting":
            return Panel("ask", "COUNT", "Count the cores in the rack by hand; type how many.")
        if view.stage == "marking":
            line = "Scan an exception, or 'done' when there is no other."
            return Panel("note", f"{view.counted} COUNTED", line)
        return Panel("note", f"{len(view.cores)} IN", f"{held} in the rack. Scan the next core.")


@pages.get("/")
@only("inspector")
def home() -> str:
    """All racks at work, and the crack checks one can be begun for."""
    return render_template("bench/racks.html", page=_home(), spot=Spot(SPOT))


@pages.get("/rack")
@only("inspector")
def rack() -> ResponseReturnValue:
    """One rack; one that is stored leads to all of them."""
    code = request.args.get("code", "")
    if not code:
        return redirect(url_for("racks.home"), 303)
    return _rack(_page(code))


@pages.post("/begin")
@only("inspector")
def begin() -> ResponseReturnValue:
    """Begin a rack of a crack check of the list."""
    form = request.form
    code = racks.begin_rack(form.get("family", ""), form.get("check", ""), **sender())
    return redirect(url_for("racks.rack", code=code), 303)


@pages.post("/count")
@only("inspector")
def count() -> ResponseReturnValue:
    """Confirm the count told by hand."""
    return _act(lambda code: racks.count_rack(code, request.form.get("count", ""), **sender()))


@pages.post("/take-out")
@only("inspector")
def take_out() -> ResponseReturnValue:
    """Take one core out of the rack."""
    tag = request.form.get("tag", "")

    def act(code: str) -> None:
        racks.take_out(code, tag, **sender())
        flash(f"Core {show_tag(tag)} is out of the rack.")

    return _act(act)


@pages.post("/give-up")
@only("inspector")
def give_up() -> ResponseReturnValue:
    """End a rack of which nothing counts."""

    def act(code: str) -> None:
        racks.give_up(code, **sender())
        flash("The rack is given up; nothing of it was stored.")

    return _act(act, leads_to="racks.home")


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a rack page and its spot, for the answer to a scan there."""
    if code:
        try:
            page = _page(code)
        except NotFound:
            code = ""
        else:
            return render_template("bench/_rack.html", page=page), _spot(page)
    return render_template("bench/_racks.html", page=_home()), Spot(SPOT)


def _home() -> RacksPage:
    here = person()
    return RacksPage(racks_view(here.name, here.station, now()))


def _page(code: str) -> RackPage:
    here = person()
    view = rack_view(code, here.name, here.station, now())
    return RackPage(f"Rack {code}: {view.check_name}", view)


def _rack(page: RackPage) -> str:
    return render_template("bench/rack.html", page=page, spot=_spot(page))


def _spot(page: RackPage) -> Spot:
    return Spot(SPOT, page.view.code, page.view.seen)


def _act(act: Callable[[str], None], leads_to: str = "racks.rack") -> ResponseReturnValue:
    """Run an action on the rack of the address; show its page again with what was wrong."""
    code = request.args.get("code", "")
    try:
        act(code)
    except (InvalidInput, NotAllowed, Conflict) as error:
        shown = _page(code)
        page = RackPage(shown.title, shown.view, request.form.to_dict(), summed_up(error))
        return _rack(page), error.status
    return redirect(url_for(leads_to, code=code if leads_to == "racks.rack" else None), 303)
