"""Photos from a phone or the desk's camera, and codes read in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from flask import Blueprint, Response, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import FileStorage

from coretrack.actions import photos
from coretrack.errors import CoretrackError, InvalidInput
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.web.access import own_address, wants_json
from coretrack.web.here import now, only, person
from coretrack.web.one_scan import act_on
from coretrack.web.paper_trail import LabelsWanted, labels_for
from coretrack.web.photo_pages import NO_LABELS, CodeSeen, PhotoPage, PhotoScanPage
from coretrack.web.reply_address import address_of

pages = Blueprint("photos", __name__)

JPEG = "image/jpeg"

_YEAR = 365 * 24 * 60 * 60


@pages.get("/<int(max=2147483647):photo_id>.jpg")
@only("clerk", "inspector")
def whole(photo_id: int) -> Response:
    """One photo as it is stored."""
    content, known = photos.photo(photo_id)
    return _picture(content, known, known.sha256)


@pages.get("/<int(max=2147483647):photo_id>-small.jpg")
@only("clerk", "inspector")
def small(photo_id: int) -> Response:
    """One photo as small as a list needs it."""
    content, known = photos.thumbnail_of(photo_id)
    return _picture(content, known, f"{known.sha256}-small")


@pages.get("/new")
@only("clerk", "inspector")
def new() -> ResponseReturnValue:
    """The page for taking photos of a core, a delivery or the core in hand."""
    args = request.args
    return _page(
        args.get("kind", ""), args.get("key", ""), args.get("what", ""), args.get("back", "")
    )


@pages.post("/new")
@only("clerk", "inspector")
def add() -> ResponseReturnValue:
    """Store the photos that were sent; a script gets JSON, a form comes back to the page."""
    form = request.form
    kind, thing, what = form.get("kind", ""), form.get("of", ""), form.get("what", "")
    back = own_address(form.get("back", ""))
    try:
        for number, file in enumerate(_files(), start=1):
            kept = photos.add_photo(
                file.read(),
                kind,
                thing,
                what,
                by=person().name,
                station=person().station,
                now=now(),
                action_key=f"{form['key']}/{number}" if form.get("key") else "",
            )
    except CoretrackError as error:
        if wants_json():
            return jsonify(error=error.message), error.status
        if not isinstance(error, InvalidInput):
            raise
        return _page(kind, thing, what, back, error)
    if wants_json():
        album = photos.album(kind, thing, by=person().name)
        return jsonify(
            id=kept.id,
            small=url_for("photos.small", photo_id=kept.id),
            whole=url_for("photos.whole", photo_id=kept.id),
            what=kept.what,
            room=album.room,
        )
    return redirect(url_for("photos.new", kind=kind, key=thing, what=what, back=back), 303)


@pages.post("/remove")
@only("clerk", "inspector")
def remove() -> ResponseReturnValue:
    """Remove a photo of the core in hand; photos of stored cores stay for good."""
    form = request.form
    draft, back = form.get("of", ""), own_address(form.get("back", ""))
    photos.album("draft", draft, by=person().name)
    photos.remove_draft_photo(form.get("photo", 0, type=int), draft)
    return redirect(url_for("photos.new", kind="draft", key=draft, back=back), 303)


@pages.get("/scan")
@only("clerk", "inspector")
def scan() -> str:
    """The phone as scanner: a photo of a code instead of a scan."""
    return render_template("photos/scan.html", page=_scan_page(request.args))


@pages.post("/scan")
@only("clerk", "inspector")
def read() -> ResponseReturnValue:
    """Read the codes of a photo; a single one is scanned at once, of several one is chosen."""
    form, page = request.form, _scan_page(request.form)
    text = form.get("text", "")
    found: tuple[CodeSeen, ...] = ()
    if not text:
        try:
            found = tuple(
                CodeSeen(code.text, code.shown, code.symbology)
                for code in photos.codes_on(_files()[0].read())
            )
        except InvalidInput as error:
            return _scanned(page, message=error.message, status=422)
        if len(found) != 1:
            message = "" if found else "No code was found. Go closer, hold still, more light."
            return _scanned(page, codes=found, message=message)
        text = found[0].text
    spot = Spot(page.page, page.code, page.seen)
    reply = act_on(text, spot, form.get("key", ""))
    return _scanned(page, reply=reply, labels=labels_for(reply.print_tags, form.get("key", "")))


def _scan_page(told: Mapping[str, str]) -> PhotoScanPage:
    return PhotoScanPage(
        title="Scan with a photo",
        page=told.get("page", "") or "home",
        code=told.get("code", ""),
        seen=told.get("seen", ""),
        back=own_address(told.get("back", "")),
    )


def _scanned(
    page: PhotoScanPage,
    *,
    codes: tuple[CodeSeen, ...] = (),
    reply: ScanReply | None = None,
    labels: LabelsWanted = NO_LABELS,
    message: str = "",
    status: int = 200,
) -> ResponseReturnValue:
    """Answer with the same page and what the photo brought."""
    go = address_of(reply.target, reply.code) if reply else ""
    shown = replace(page, codes=codes, reply=reply, go=go, labels=labels, message=message)
    return render_template("photos/scan.html", page=shown), status


def _page(
    kind: str, thing: str, what: str, back: str, error: InvalidInput | None = None
) -> ResponseReturnValue:
    """Answer with an object's photos; 422 and what was wrong after an error."""
    album = photos.album(kind, thing, by=person().name)
    page = PhotoPage(
        title=f"Photos of {album.title}",
        album=album,
        what=what if what in photos.SHOWS else "",
        back=own_address(back),
        message=error.message if error else "",
        problems=error.fields if error else {},
    )
    return render_template("photos/new.html", page=page), 422 if error else 200


def _files() -> list[FileStorage]:
    """Return the photos that were sent; InvalidInput when there is none."""
    files = [file for file in request.files.getlist("photo") if file.filename]
    if not files:
        raise InvalidInput("No photo was chosen; take one or choose a file.", {"photo": "missing"})
    return files


def _picture(content: bytes, known: photos.StoredPhoto, mark: str) -> Response:
    """Return a JPEG that its browser may keep: a photo that an event names never changes.

    Photos of a core in hand may be dropped and their number given to another: those are asked for
    again, and sent only when they are others.
    """
    response = Response(content, mimetype=JPEG)
    response.cache_control.private = True
    if known.kind == "draft":
        response.cache_control.no_cache = True
    else:
        response.cache_control.max_age = _YEAR
        response.cache_control.immutable = True
    response.set_etag(mark)
    response.make_conditional(request)
    return response
