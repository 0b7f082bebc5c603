"""Serves pages on a port of this computer and opens them in a real browser."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, expect, sync_playwright
from tools import needs_tool
from werkzeug.serving import make_server

# What is shown is waited for; how long a busy computer takes for it is no fault.
expect.set_options(timeout=20_000)

SIZES = {"desk": (1280, 900), "bench": (1024, 768), "phone": (390, 844)}


@contextmanager
def served(app: Flask) -> Iterator[str]:
    """Serve `app` on a free port of 127.0.0.1 while the block runs; gives its address."""
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join(timeout=10)
        server.server_close()


@contextmanager
def browser() -> Iterator[Browser]:
    """Start Debian's chromium while the block runs."""
    path = needs_tool("chromium")
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-gpu"]
        )
        try:
            yield running
        finally:
            running.close()


@contextmanager
def opened(
    running: Browser, address: str, size: str = "desk", scheme: str = "light"
) -> Iterator[Page]:
    """Open `address` in a window of that size and colour scheme; page errors fail the test."""
    width, height = SIZES[size]
    page = running.new_page(
        viewport={"width": width, "height": height},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    # What the page had not loaded yet when the person went on is no fault.
    page.on(
        "requestfailed",
        lambda failed: (
            trouble.append(f"not loaded: {failed.url}")
            if failed.failure != "net::ERR_ABORTED"
            else None
        ),
    )
    try:
        page.goto(address)
        yield page
    finally:
        page.close()
    if trouble:
        pytest.fail(f"the browser reported: {trouble}")


def keep_picture(page: Page, folder: Path, name: str) -> Path:
    """Save a picture of the whole page, for a person to look at."""
    path = folder / f"{name}.png"
    page.screenshot(path=str(path), full_page=True)
    return path
