"""`coretrack serve` as a process of its own, and requests to it over a socket."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import urlencode

import pytest
from databases import ROOT
from staff import CLERK, PASSWORDS

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@dataclass(frozen=True)
class RunningServer:
    """A server at work: its port, and its process for what a test does to it."""

    port: int
    pid: int


@contextmanager
def running_server(data: Path) -> Iterator[RunningServer]:
    """Run `coretrack serve` on a data folder while the block runs."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "coretrack", "--data", str(data), "serve", "--port", str(port)],
        env={**os.environ, "CORETRACK_DATABASE_URL": "", "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        _wait_for(port, process)
        yield RunningServer(port, process.pid)
    finally:
        process.terminate()
        process.communicate(timeout=20)


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    give_up = time.monotonic() + 30
    while time.monotonic() < give_up and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    pytest.fail(f"the server did not start: {process.poll()}")


@dataclass
class Window:
    """A browser's requests over a socket: its cookies, one connection for each request."""

    port: int
    _cookies: SimpleCookie = field(default_factory=SimpleCookie)

    def ask(
        self, method: str, address: str, body: bytes = b"", headers: Mapping[str, str] | None = None
    ) -> tuple[int, str]:
        """Return status and text of an answer; a connection that is cut raises."""
        link = HTTPConnection("127.0.0.1", self.port, timeout=120)
        held = "; ".join(f"{name}={cookie.value}" for name, cookie in self._cookies.items())
        try:
            link.request(method, address, body, {"Cookie": held, **(headers or {})})
            answer = link.getresponse()
            for given in answer.headers.get_all("Set-Cookie") or []:
                self._cookies.load(given)
            return answer.status, answer.read().decode()
        finally:
            link.close()

    def token(self, address: str) -> str:
        """Return the token of the first form on a page."""
        status, page = self.ask("GET", address)
        found = re.search(r'name="csrf_token" value="([^"]+)"', page)
        assert found is not None, (status, page[:600])
        return found[1]

    def send(self, page: str, address: str, fields: Mapping[str, str]) -> tuple[int, str]:
        """Send a form that stands on `page`."""
        told = {"csrf_token": self.token(page), **fields}
        return self.ask("POST", address, urlencode(told).encode(), FORM)

    def sign_in(self, name: str = CLERK) -> None:
        """Sign in by name and password."""
        status, _ = self.send("/sign-in", "/sign-in", {"name": name, "password": PASSWORDS[name]})
        assert status == 303

    def upload(
        self, page: str, address: str, fields: Mapping[str, str], name: str, content: bytes
    ) -> tuple[int, str]:
        """Send a form with a file, which has to be text, as a browser does."""
        mark = "edge-of-a-part"
        told = {"csrf_token": self.token(page), **fields}
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{text}\r\n'
            for field, text in told.items()
        ]
        parts.append(
            f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        )
        body = "".join(parts).encode() + content + f"\r\n--{mark}--\r\n".encode()
        kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        return self.ask("POST", address, body, kind)
