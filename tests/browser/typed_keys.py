"""Keys pressed at exact moments by a simulated scanner, gauge or hand, also on a busy computer."""

from __future__ import annotations

import time
from typing import Any
from weakref import WeakKeyDictionary

from playwright.sync_api import Page

KEY_MS = 5
"""How long a scanner takes for one sign; wedges were measured at 5 to 16 ms."""
HANDS_MS = 75
"""How long quick hands take for one sign."""


class Keys:
    """Keys of one page at exact moments, so that a busy computer does not slow a scanner down."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)
        self._time = 0.0

    def rest(self, ms: float) -> None:
        """Let that much time pass before the next key, without waiting for it."""
        self._time = max(self._time, time.time()) + ms / 1000

    def type(self, text: str, ms: float) -> None:
        """Press one key for each sign, each `ms` after the one before it."""
        for sign in text:
            self._time += ms / 1000
            self._press({"key": sign, "text": sign})

    def end(self, key: str, ms: float) -> None:
        """Press Enter or Tab, `ms` after the last key."""
        self._time += ms / 1000
        number = {"Enter": 13, "Tab": 9}[key]
        told: dict[str, Any] = {"key": key, "code": key, "windowsVirtualKeyCode": number}
        self._press({**told, "text": "\r"} if key == "Enter" else told)

    def _press(self, told: dict[str, Any]) -> None:
        for kind in ("keyDown", "keyUp"):
            named = {**told, "type": kind, "timestamp": self._time}
            self._session.send("Input.dispatchKeyEvent", named)


_keys: WeakKeyDictionary[Page, Keys] = WeakKeyDictionary()


def keys(page: Page) -> Keys:
    """The keyboard of that page."""
    if page not in _keys:
        _keys[page] = Keys(page)
    return _keys[page]


def type_scan(page: Page, text: str, end: str = "Enter", key_ms: float = KEY_MS) -> None:
    """Type as a scanner does: wherever the cursor is, fast, with Enter or Tab at the end."""
    keys(page).rest(HANDS_MS)
    keys(page).type(text, key_ms)
    keys(page).end(end, key_ms)


def by_hand(page: Page, text: str, end: str = "") -> None:
    """Type as quick hands do, with or without a key at the end."""
    keys(page).rest(HANDS_MS)
    keys(page).type(text, HANDS_MS)
    if end:
        keys(page).end(end, HANDS_MS)
