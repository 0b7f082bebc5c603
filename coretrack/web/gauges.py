"""Gauges: the register, what is due, studies, and recalling what a gauge measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import gauge_recalls, gauge_studies, gauges, study_cells
from coretrack.actions.gauge_recalls import Recall, recall_sentence
from coretrack.actions.gauge_studies import StudyView
from coretrack.actions.gauges import GaugeTold, GaugeView, Register
from coretrack.actions.study_cells import Cell, StudyTold
from coretrack.actions.study_results import SHARE_NOTE
from coretrack.errors import CoretrackError, Forbidden, InvalidInput, NotFound
from coretrack.figures.scan_replies import Spot
from coretrack.figures.trade_objects import Gauge
from coretrack.figures.wording import SAFETY
from coretrack.paper.file_names import safe_file_name
from coretrack.web.forms import summed_up
from coretrack.web.here import doer, now, only, person
from coretrack.web.panel import Panel

pages = Blueprint("gauges", __name__)


@dataclass(frozen=True)
class RegisterPage:
    """gauges/home.html; `typed` and `problems` are those of a new gauge that came back."""

    view: Register
    is_owner: bool
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    title: str = "Gauges"


@dataclass(frozen=True)
class GaugePage:
    """gauges/gauge.html; `failed` names the form that came back."""

    title: str
    view: GaugeView
    is_owner: bool
    checks: list[tuple[str, str]]
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    failed: str = ""

    def of(self, form: str) -> GaugePage:
        """Return the page as one of its forms sees it: its own typed texts, else what stands."""
        if form == self.failed:
            return self
        typed = {"pieces": StudyTold.pieces, "trials": StudyTold.trials}
        if form == "register":
            typed = _as_typed(self.view.line.gauge)
        return GaugePage(self.title, self.view, self.is_owner, self.checks, typed)


@dataclass(frozen=True)
class RecallPage:
    """gauges/recall.html"""

    title: str
    found: Recall
    sentence: str
    since: str = ""
    problem: str = ""
    safety: str = SAFETY


@dataclass(frozen=True)
class StudyPage:
    """gauges/study.html; `missing` names the cells without a reading."""

    title: str
    view: StudyView
    is_owner: bool
    missing: str
    share_note: str = SHARE_NOTE
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def panel(self) -> Panel | None:
        """What the large panel says before anything was measured on this page."""
        cell = self.view.next
        if self.view.study.status != "open":
            return None
        if cell is None:
            return Panel("good", "COMPLETE", "All cells have a reading; see what it came to.")
        line = f"{cell.inspector} measures piece {cell.piece}; {len(self.view.missing)} to go."
        return Panel("note", f"PIECE {cell.piece}", line)


@pages.get("/")
@only("inspector")
def home() -> str:
    """The register: what is overdue first."""
    return render_template("gauges/home.html", page=_register())


@pages.post("/")
@only("owner")
def add() -> ResponseReturnValue:
    """Enter a gauge into the register."""
    try:
        code = gauges.add_gauge(_told(), key=_key(), **doer())
    except CoretrackError as error:
        page = RegisterPage(gauges.register(now()), True, _typed(), _problems(error))
        return render_template("gauges/home.html", page=page), error.status
    flash(f"Gauge {code} is in the register.")
    return _to(code)


@pages.get("/gauge")
@only("inspector")
def gauge() -> str:
    """One gauge: where it stands, its history, its studies, what can be done."""
    return render_template("gauges/gauge.html", page=_gauge(_code()))


@pages.post("/change")
@only("owner")
def change() -> ResponseReturnValue:
    """Change what the register says of a gauge."""
    return _act("register", lambda code: gauges.change_gauge(code, _told(), key=_key(), **doer()))


@pages.post("/check")
@only("owner")
def check() -> ResponseReturnValue:
    """Note a check of a gauge, good or not."""
    form = request.form

    def act(code: str) -> str:
        if form.get("result") not in ("good", "not good"):
            raise InvalidInput("Say how it came out.", {"result": "choose good or not good"})
        return gauges.note_check(
            code,
            form.get("day", ""),
            form.get("result") == "good",
            form.get("due_on", ""),
            form.get("note", ""),
            key=_key(),
            **doer(),
        )

    return _act("check", act)


@pages.post("/out")
@only("inspector")
def out() -> ResponseReturnValue:
    """Take a gauge out of use at once."""
    reason = request.form.get("reason", "")
    return _act("out", lambda code: gauges.take_out_of_use(code, reason, key=_key(), **doer()))


@pages.get("/recall")
@only("inspector")
def recall() -> ResponseReturnValue:
    """Every core measured with a gauge since its last good check."""
    since, stamped = request.args.get("since", ""), bool(request.args.get("stamped"))
    title = f"Recall: gauge {_code()}"
    try:
        found = gauge_recalls.recall(_code(), since, overdue_only=stamped)
    except InvalidInput as error:
        found = gauge_recalls.recall(_code(), overdue_only=stamped)
        page = RecallPage(title, found, recall_sentence(found), since, error.message)
        return render_template("gauges/recall.html", page=page), error.status
    page = RecallPage(title, found, recall_sentence(found), since)
    return render_template("gauges/recall.html", page=page)


@pages.get("/recall.csv")
@only("inspector")
def recall_file() -> Response:
    """The same list as a file, one reading a row."""
    stamped = bool(request.args.get("stamped"))
    found = gauge_recalls.recall(_code(), request.args.get("since", ""), overdue_only=stamped)
    response = Response(gauge_recalls.recall_csv(found), mimetype="text/csv")
    name = safe_file_name(f"recall-{found.gauge.key}", ".csv")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@pages.post("/studies")
@only("inspector")
def begin() -> ResponseReturnValue:
    """Begin a study of a gauge and open its page."""
    told = {part.name: request.form.get(part.name, "") for part in fields(StudyTold)}
    told["gauge"] = _code()
    try:
        key = gauge_studies.begin_study(StudyTold(**told), key=_key(), **doer())
    except InvalidInput as error:
        page = _gauge(_code(), _typed(), _problems(error), "study")
        return render_template("gauges/gauge.html", page=page), error.status
    return redirect(url_for("gauges.study", code=key), 303)


@pages.get("/study")
@only("inspector")
def study() -> str:
    """One study: the next piece to measure, what is missing, or what it came to."""
    return _study(_study_page(_code()))


@pages.post("/study")
@only("inspector")
def study_act() -> ResponseReturnValue:
    """Enter a reading by the fields, take one out, give the study up, or apply its U."""
    form, code = request.form, _code()
    try:
        _act_on_study(code, form.get("act", "enter"))
    except (NotFound, Forbidden):
        raise
    except CoretrackError as error:
        return _study(_study_page(code, _typed(), _problems(error))), error.status
    return redirect(url_for("gauges.study", code=code), 303)


def study_part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a study's page and its spot, for the answer to a scan there."""
    page = _study_page(code)
    return render_template("gauges/_study.html", page=page), _spot(page.view)


def _act_on_study(code: str, act: str) -> None:
    form = request.form
    if act == "apply":
        flash(gauge_studies.apply_study(code, role=person().role, key=_key(), **doer()))
    elif act == "again":
        cell = _cell(form.get("again", ""))
        flash(f"{gauge_studies.measure_again(code, cell, key=_key(), **doer())}.")
    elif act == "give up":
        gauge_studies.give_up_study(code, form.get("reason", ""), key=_key(), **doer())
        flash(f"Study {code} was given up.")
    else:
        said = gauge_studies.enter_reading(
            code,
            _cell(form.get("cell", "")),
            form.get("reading", ""),
            insist=form.get("insist") == "yes",
            key=_key(),
            **doer(),
        )
        flash(said)


def _study_page(
    code: str,
    typed: Mapping[str, str] | None = None,
    problems: Mapping[str, str] | None = None,
) -> StudyPage:
    view = gauge_studies.study_view(code)
    missing = study_cells.cells_missing(view.missing) if view.missing else ""
    is_owner = person().role == "owner"
    return StudyPage(
        f"Study {code}", view, is_owner, missing, typed=typed or {}, problems=problems or {}
    )


def _study(page: StudyPage) -> str:
    if page.view.study.status != "open":
        return render_template("gauges/study.html", page=page)
    return render_template("gauges/study.html", page=page, spot=_spot(page.view))


def _spot(view: StudyView) -> Spot:
    if view.study.status != "open":
        return Spot()
    return Spot("study", view.study.key, gauge_studies.seen_of(view.study))


def _cell(told: str) -> Cell | None:
    """Return the cell that a choice names by its place in the drawn order, None for the next."""
    if not told:
        return None
    order = gauge_studies.study_view(_code()).study.design["order"]
    if not (told.isascii() and told.isdecimal() and int(told[:6]) < len(order)):
        raise InvalidInput("There is no such cell.", {"cell": "choose one of the list"})
    who, piece, trial = order[int(told[:6])]
    return Cell(who, piece, trial)


def _act(form: str, act: Callable[[str], str]) -> ResponseReturnValue:
    """Run an action on the gauge of the address; show its page again with what was wrong."""
    code = _code()
    try:
        flash(f"{act(code).rstrip('.')}.")
    except NotFound:
        raise
    except CoretrackError as error:
        page = _gauge(code, _typed(), _problems(error), form)
        return render_template("gauges/gauge.html", page=page), error.status
    return _to(code)


def _gauge(
    code: str,
    typed: Mapping[str, str] | None = None,
    problems: Mapping[str, str] | None = None,
    failed: str = "",
) -> GaugePage:
    view = gauges.gauge_view(code, now())
    return GaugePage(
        f"Gauge {code}",
        view,
        person().role == "owner",
        study_cells.numeric_checks(),
        typed or {},
        problems or {},
        failed,
    )


def _register() -> RegisterPage:
    return RegisterPage(gauges.register(now()), person().role == "owner")


def _as_typed(gauge: Gauge) -> dict[str, str]:
    names = (part.name for part in fields(GaugeTold) if part.name != "code")
    return {name: str(getattr(gauge, name)) for name in names}


def _told() -> GaugeTold:
    return GaugeTold(**{part.name: request.form.get(part.name, "") for part in fields(GaugeTold)})


def _typed() -> dict[str, str]:
    return request.form.to_dict()


def _problems(error: CoretrackError) -> Mapping[str, str]:
    return summed_up(error)


def _key() -> str:
    return request.form.get("key", "")


def _code() -> str:
    return request.args.get("code", "")


def _to(code: str) -> ResponseReturnValue:
    return redirect(url_for("gauges.gauge", code=code), 303)
