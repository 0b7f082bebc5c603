"""Files read in by the browser: looked at first, then stored; and a sale that is typed."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from contextlib import closing
from io import BytesIO
from pathlib import PurePosixPath

from flask import (
    Blueprint,
    Response,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    send_file,
    url_for,
)
from flask.typing import ResponseReturnValue

from coretrack.actions import sale_views, typed_sale, upload_reading
from coretrack.actions.sale_views import TypedSale
from coretrack.actions.upload_box import Upload, UploadBox
from coretrack.actions.upload_reading import KINDS, READING, Answer, UploadKind
from coretrack.errors import CoretrackError, Forbidden
from coretrack.figures.trade_objects import Lot
from coretrack.web.here import now, only, person
from coretrack.web.import_pages import (
    AnswerPage,
    Beside,
    FilesPage,
    Link,
    PreviewPage,
    SalePage,
)

pages = Blueprint("imports", __name__)

_MEGABYTE = 1024 * 1024
_KINDS_OF_FILE = {
    ".csv": "text/csv",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_SALE_FIELDS = tuple(TypedSale.__dataclass_fields__)
_CUSTOMER_FIELDS = ("new_code", "new_name", "new_kind")


@pages.get("/")
@only("clerk", "inspector")
def home() -> str:
    """Choose what a file is, then the file; `lot` is a begun lot that waits for its manifest."""
    lot = request.args.get("lot", "")
    if lot:
        begun = upload_reading.begun_lot(lot)
        return _home("lot", {"lot": begun.key, "source": begun.source}, begun=begun)
    return _home(request.args.get("kind", ""), {})


def _home(
    kind: str,
    typed: Mapping[str, str],
    problems: Mapping[str, str] | None = None,
    begun: Lot | None = None,
) -> str:
    beside = _beside(_allowed(kind), typed, problems, begun) if kind else None
    message = next(iter((problems or {}).values()), "")
    most = int(current_app.config["MAX_CONTENT_LENGTH"]) // _MEGABYTE
    page = FilesPage(_kinds(), most, beside, message)
    return render_template("files/home.html", page=page)


@pages.post("/upload")
@only("clerk", "inspector")
def upload() -> ResponseReturnValue:
    """Keep a file and show what it would store."""
    kind = _allowed(request.form.get("kind", ""))
    told, sent = _told(kind), request.files.get("file")
    if sent is None or not sent.filename:
        problems = {"file": "Choose the file first."}
        return _home(kind.code, told, problems, _begun(told)), 422
    with closing(sent):
        token = _box().put_in(sent.filename, sent.read(), told)
    return _to("preview", token)


@pages.get("/preview")
@only("clerk", "inspector")
def preview() -> ResponseReturnValue:
    """What a file would store; nothing is stored yet."""
    box, waiting = _box(), _upload()
    if waiting.answer is not None:
        return _to("answer", waiting.token)
    kind = _allowed(waiting.told.get("kind", ""))
    found, message, problems, status = None, "", {}, 200
    asks: tuple[str, ...] = ()
    try:
        found = upload_reading.preview(box, waiting, by=person().name, now=now())
        asks = found.asks
    except CoretrackError as error:
        message, problems, status = error.message, dict(error.fields), error.status
        asks = tuple(name for name in READING if name in problems)
    beside = _beside(kind, waiting.told, problems, _begun(waiting.told), asks)
    page = PreviewPage(waiting.token, waiting.name, beside, found, message)
    return render_template("files/preview.html", page=page), status


@pages.post("/preview")
@only("clerk", "inspector")
def look_again() -> ResponseReturnValue:
    """Look at the same file in another way."""
    waiting = _upload()
    _box().tell(waiting.token, _told(_allowed(request.form.get("kind", ""))))
    return _to("preview", waiting.token)


@pages.post("/store")
@only("clerk", "inspector")
def store() -> ResponseReturnValue:
    """Store the good rows of a file that was looked at."""
    box, waiting = _box(), _upload()
    _allowed(waiting.told.get("kind", ""))
    if waiting.answer is not None:
        flash(f"{waiting.name} was stored already; nothing was stored a second time.")
        return _to("answer", waiting.token)
    try:
        upload_reading.store(box, waiting, by=person().name, now=now())
    except CoretrackError as error:
        flash(error.message)
        return _to("preview", waiting.token)
    return _to("answer", waiting.token)


@pages.post("/drop")
@only("clerk", "inspector")
def drop() -> ResponseReturnValue:
    """Let a file go that shall not be stored."""
    waiting = _upload()
    _box().throw_away(waiting.token)
    flash(f"{waiting.name} was put away; nothing of it was stored.")
    return redirect(url_for("imports.home"), 303)


@pages.get("/answer")
@only("clerk", "inspector")
def answer() -> str:
    """What a file stored, and where to go from there."""
    stored = _upload()
    told = upload_reading.answer_of(stored)
    kind = upload_reading.kind_called(stored.told.get("kind", ""))
    again = url_for("imports.home", kind=kind.code)
    page = AnswerPage(stored.token, stored.name, kind.name, told, _links(told, kind), again)
    return render_template("files/answer.html", page=page)


@pages.get("/rejects")
@only("clerk", "inspector")
def rejects() -> Response:
    """The rows of a file that are not stored, in a file of the same kind, with the reasons."""
    asked = _upload()
    ending, content = upload_reading.rejects(_box(), asked, by=person().name, now=now())
    stem = PurePosixPath(asked.name).stem.removesuffix(".rejects")
    return send_file(
        BytesIO(content),
        mimetype=_KINDS_OF_FILE[ending],
        as_attachment=True,
        download_name=f"{stem}.rejects{ending}",
    )


@pages.get("/sale")
@only("clerk")
def sale() -> str:
    """A sale to be typed; what is known of it so far stands beside it."""
    line = request.args.get("line_key", "")
    names = (*_SALE_FIELDS, *_CUSTOMER_FIELDS)
    typed = {name: request.args[name] for name in names if name in request.args}
    return _sale(typed, stored=line)


@pages.post("/sale")
@only("clerk")
def type_sale() -> ResponseReturnValue:
    """Store a typed sale; or look up what it says, or add its customer, and keep on typing."""
    form = request.form
    typed = {name: form.get(name, "") for name in (*_SALE_FIELDS, *_CUSTOMER_FIELDS)}
    told = TypedSale(**{name: typed[name] for name in _SALE_FIELDS})
    here, do = person(), form.get("do", "store")
    try:
        if do == "look":
            return _keep_typing(typed)
        if do == "customer":
            code = typed_sale.add_customer(
                *(typed[name] for name in _CUSTOMER_FIELDS), by=here.name, now=now()
            )
            flash(f"{code} is a customer now.")
            added = dict.fromkeys(_CUSTOMER_FIELDS, "")
            return _keep_typing({**typed, **added, "customer": code})
        stored = typed_sale.type_sale(
            told, by=here.name, station=here.station, now=now(), key=form.get("key", "")
        )
    except CoretrackError as error:
        problems = dict(error.fields) or {"": error.message}
        return _sale(typed, problems, key=form.get("key", "")), error.status
    if stored.again:
        flash(f"Line {stored.key} is stored already; nothing was stored a second time.")
    return redirect(url_for("imports.sale", line_key=stored.key), 303)


def _keep_typing(typed: Mapping[str, str]) -> ResponseReturnValue:
    """Go to the page again with everything typed so far."""
    kept = {name: text for name, text in typed.items() if text}
    return redirect(url_for("imports.sale", **kept), 303)  # type: ignore[arg-type]


def _sale(
    typed: Mapping[str, str],
    problems: Mapping[str, str] | None = None,
    stored: str = "",
    key: str = "",
) -> str:
    desk = sale_views.sale_desk(now())
    line = sale_views.sold_line(stored, now()) if stored else None
    filled = {"date": desk.today, **typed}
    if line is not None:
        # The next line of the same paper is what usually follows.
        same = {"invoice": line.invoice, "customer": line.customer, "date": line.sold_on}
        filled = {**same, **typed}
    told = {name: filled.get(name, "") for name in _SALE_FIELDS}
    terms = sale_views.sale_terms(TypedSale(**told), now())
    # A form that came back keeps its key: it is still the same sale.
    page = SalePage(desk, terms, filled, problems or {}, line, key or secrets.token_hex(16))
    return render_template("files/sale.html", page=page)


def _box() -> UploadBox:
    settings = current_app.config["CORETRACK_SETTINGS"]
    folder = settings.data_folder if settings else None
    return UploadBox(folder, by=person().name, now=now())


def _upload() -> Upload:
    return _box().find(request.args.get("upload", ""))


def _to(view: str, token: str) -> ResponseReturnValue:
    return redirect(url_for(f"imports.{view}", upload=token), 303)


def _kinds() -> list[UploadKind]:
    """Return what this person may read in."""
    return [kind for kind in KINDS if person().may(*kind.roles)]


def _allowed(code: str) -> UploadKind:
    kind = upload_reading.kind_called(code)
    if not person().may(*kind.roles):
        who = " and the ".join(kind.roles) or "owner"
        raise Forbidden(f"“{kind.name}” is read in by the {who}.")
    return kind


def _told(kind: UploadKind) -> dict[str, str]:
    """Return what the form says beside the file."""
    given = {name: request.form.get(name, "") for name in (*kind.told, *READING)}
    return {"kind": kind.code, **given}


def _begun(told: Mapping[str, str]) -> Lot | None:
    """Return the lot that waits for this manifest, None when the file is told to be another."""
    if told.get("kind") != "lot" or not told.get("lot"):
        return None
    try:
        return upload_reading.begun_lot(told["lot"])
    except CoretrackError:
        return None


def _beside(
    kind: UploadKind,
    typed: Mapping[str, str],
    problems: Mapping[str, str] | None,
    begun: Lot | None,
    asks: tuple[str, ...] = (),
) -> Beside:
    sources = upload_reading.sources_for(kind)
    return Beside(kind, _kinds(), sources, typed, problems or {}, begun, asks)


def _links(told: Answer, kind: UploadKind) -> list[Link]:
    """Return the ways on: the labels first, since every core wants one."""
    found = []
    for code in (*told.deliveries, *told.lots):
        found.append(Link(f"Print the labels of {code}", url_for("labels.home", lot=code)))
    for code in told.deliveries:
        found.append(Link(f"Delivery {code}", url_for("receiving.delivery", code=code)))
    for code in told.lots:
        found.append(Link(f"Lot {code}", url_for("lots.lot", code=code)))
    if kind.code == "sales" and person().may("clerk"):
        found.append(Link("Open core lines", url_for("lists.lines")))
    return found
