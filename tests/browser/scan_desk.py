"""A small server that answers scans as the station does and keeps what arrives: no database."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flask import Flask, Response, jsonify, render_template_string, request
from playwright.sync_api import Browser, BrowserContext, Page
from werkzeug.serving import BaseWSGIServer, make_server

import coretrack.web
from coretrack.figures.scan_replies import Offer, ScanReply, Spot
from coretrack.web.hooks import HEADERS

STATIC = Path(coretrack.web.__file__).parent / "static"
SCRIPTS = ("sound", "store", "queue", "show", "page")
STYLES = ("style", "station", "scan")

PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Desk</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="data:,">
{% for name in styles %}<link rel="stylesheet" href="/static/{{ name }}.css">{% endfor %}
</head><body class="station" data-person="{{ person }}">
<form id="scan" class="scan" method="post" action="/receiving/scan"
      data-page="{{ spot.page }}" data-code="{{ spot.code }}" data-seen="{{ spot.seen }}">
  <input type="hidden" name="csrf_token" value="{{ token }}"> <input type="hidden" name="key">
  <input type="hidden" name="page"> <input type="hidden" name="code">
  <input type="hidden" name="seen">
  <label for="scan-text">Scan or type</label>
  <input id="scan-text" name="text" autocomplete="off" autocapitalize="off" spellcheck="false"
         enterkeyhint="go" maxlength="400">
  <button>Enter</button>
</form>
<div id="queue" class="queue" hidden role="status"></div>
<section id="said" class="said tone-note" role="status" aria-live="assertive">
  <span class="shape" aria-hidden="true"></span><strong class="word"></strong>
  <p class="line"></p><p class="detail"></p><div class="offers"></div></section>
<details id="lately" class="lately" open><summary>Last scans</summary>
<ol id="last" class="last"></ol></details>
<button id="sound" type="button" aria-pressed="true">Sound on</button>
<p id="nothing">Nothing to press here.</p>
<main id="work">{{ work|safe }}</main>
{% for name in scripts %}<script src="/static/scan_{{ name }}.js" defer></script>{% endfor %}
<script src="/static/wrong_field.js" defer></script>
<script src="/static/scan.js" defer></script>
</body></html>
"""

WORK = """<form id="piece" method="post" action="/piece">
<label>Note <input name="note" id="note"></label>
<label>Price <input name="price" id="price" type="number" step="any" value="12.50"></label>
<label>Remarks <textarea name="remarks" id="remarks"></textarea></label>
<label>Search <input name="search" id="search" type="search"></label>
<label>Fault <select name="fault" id="fault"><option>none</option><option>1 crack</option>
<option>0 rust</option></select></label>
<label>Badge <input name="badge" id="badge" data-scan="here"></label>
<label><input type="checkbox" name="box" id="box"> in its box</label>
<p id="round">round {{ round }}</p>
<button id="save">Save</button></form>
<a id="next" href="/?page=delivery&amp;code=D-2">next delivery</a>
"""

Answer = Callable[[Mapping[str, Any]], Mapping[str, Any]]


def good(scan: Mapping[str, Any]) -> Mapping[str, Any]:
    """Answer a scan with a plain yes."""
    return {"reply": ScanReply("good", "TAKEN", f"{scan['text']} is taken.").to_dict()}


def saying(tone: str, word: str, **more: Any) -> Answer:
    """Return an answer of that tone and word; `more` are further fields of the reply."""

    def answer(scan: Mapping[str, Any]) -> Mapping[str, Any]:
        return {"reply": ScanReply(tone, word, f"{scan['text']}: {word}.", **more).to_dict()}

    return answer


def asking(*offers: str) -> Answer:
    """Return a question that offers these texts."""
    return saying("ask", "WHICH", offers=tuple(Offer(f"take {text}", text) for text in offers))


@dataclass
class Desk:
    """What the server answers, and what has arrived."""

    arrived: list[dict[str, Any]] = field(default_factory=list)
    acted: dict[str, dict[str, Any]] = field(default_factory=dict)
    forms: list[dict[str, str]] = field(default_factory=list)
    answers: dict[str, Answer] = field(default_factory=dict)
    failing: list[int] = field(default_factory=list)
    status: int = 200
    slow: dict[str, float] = field(default_factory=dict)
    token: str = "first"
    at_once: int = 0
    most_at_once: int = 0
    port: int = 0
    _server: BaseWSGIServer | None = None
    _thread: threading.Thread | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def address(self) -> str:
        """Where the desk is."""
        return f"http://127.0.0.1:{self.port}/"

    @property
    def texts(self) -> list[str]:
        """What was acted on, in order; a scan that came twice under its key is there once."""
        return [str(scan["text"]) for scan in self.acted.values()]

    def start(self) -> None:
        """Serve, always on the same port."""
        self._server = make_server("127.0.0.1", self.port, _application(self), threaded=True)
        self.port = self._server.server_port
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop serving: the browser finds nobody at the address."""
        if self._server and self._thread:
            self._server.shutdown()
            self._thread.join(timeout=10)
            self._server.server_close()
            self._server = None

    def take(self, scan: dict[str, Any]) -> tuple[int, Mapping[str, Any]]:
        """Answer one scan as the station does; the status and the JSON."""
        with self._lock:
            self.at_once += 1
            self.most_at_once = max(self.most_at_once, self.at_once)
        try:
            time.sleep(self.slow.get(str(scan["text"]), 0.0))
            return self._answered(scan)
        finally:
            with self._lock:
                self.at_once -= 1

    def _answered(self, scan: dict[str, Any]) -> tuple[int, Mapping[str, Any]]:
        self.arrived.append(scan)
        status = self.failing.pop(0) if self.failing else self.status
        if status != 200:
            return status, {"error": {401: "signed out", 423: "locked"}.get(status, "trouble")}
        if request.headers.get("X-CSRFToken") != self.token:
            return 400, {"error": "token", "token": self.token}
        self.acted.setdefault(str(scan["key"]), scan)
        told = self.answers.get(str(scan["text"]), good)(scan)
        last = [{"tone": "good", "word": "TAKEN", "line": text, "at": "08:10:00"}
                for text in reversed(self.texts[-5:])]  # fmt: skip
        spot = {"page": scan["page"], "code": scan["code"], "seen": f"seen {len(self.acted)}"}
        return 200, {"go": None, "html": None, "print": None, "spot": spot, "last": last, **told}


def _application(desk: Desk) -> Flask:
    app = Flask("scan_desk", static_folder=str(STATIC), static_url_path="/static")

    @app.get("/")
    def page() -> str:
        asked = request.args
        spot = Spot(asked.get("page", "home"), asked.get("code", ""), asked.get("seen", ""))
        person = asked.get("person", "Ada")
        work = render_template_string(WORK, round=0)
        return render_template_string(
            PAGE,
            spot=spot,
            person=person,
            token=desk.token,
            work=work,
            scripts=SCRIPTS,
            styles=STYLES,
        )

    @app.post("/receiving/scan")
    def scan() -> tuple[Response, int]:
        status, told = desk.take(request.get_json())
        return jsonify(told), status

    @app.post("/piece")
    def piece() -> str:
        desk.forms.append(request.form.to_dict())
        return "saved"

    @app.get("/labels")
    def labels() -> Response:
        """A page to print, which a frame of our own page may not show when it is asked so."""
        refused = request.args.get("framed") == "no"
        headers = {"X-Frame-Options": "DENY", "Content-Security-Policy": "frame-ancestors 'none'"}
        return Response("<p>1000 0042 35</p>", headers=headers if refused else None)

    @app.after_request
    def guarded(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    return app


@contextmanager
def desk_at_work() -> Iterator[Desk]:
    """Serve a desk while the block runs."""
    desk = Desk()
    desk.start()
    try:
        yield desk
    finally:
        desk.stop()


@contextmanager
def person_at(running: Browser, **settings: Any) -> Iterator[BrowserContext]:
    """Give a person's browser, whose tabs share what is stored; errors of the scripts fail."""
    context = running.new_context(**{"viewport": {"width": 1024, "height": 768}, **settings})
    context.set_default_timeout(20_000)
    trouble: list[str] = []
    context.on("weberror", lambda error: trouble.append(str(error.error)))
    try:
        yield context
    finally:
        context.close()
    assert trouble == []


def until(true: Callable[[], bool], page: Page, seconds: float = 20.0) -> None:
    """Wait until `true`, while the page goes on; fails when it takes longer than `seconds`."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited in vain"
        page.wait_for_timeout(30)
