"""What a password or PIN must be like, how it is kept, and whether a typed one is right."""

from __future__ import annotations

import unicodedata
from functools import cache
from itertools import pairwise

from coretrack.errors import InvalidInput
from coretrack.figures.scan_reading import read_scan

LEAST_PASSWORD, MOST_PASSWORD = 10, 200
LEAST_PIN, MOST_PIN = 4, 8

# The first that anybody would try among those of ten signs or more; the list is from memory.
_COMMONEST = frozenset(
    {
        "1234567890", "0123456789", "0987654321", "12345678910", "123456789a", "1q2w3e4r5t",
        "qwertyuiop", "qwertzuiop", "azertyuiop", "password12", "password123", "password1234",
        "passwort123", "iloveyou123", "welcome123", "letmein123", "changeme123", "administrator",
        "administrator1", "abcdefghij", "abc1234567",
    }
)  # fmt: skip


def check_password(password: str, *names: str) -> None:
    """Raise InvalidInput unless `password` is hard enough to guess.

    `names` are the shop's and the person's, which anybody near would try.
    """
    if len(password) < LEAST_PASSWORD:
        raise InvalidInput(f"The password is too short; use {LEAST_PASSWORD} signs or more.")
    if len(password) > MOST_PASSWORD:
        raise InvalidInput(f"The password is too long; use {MOST_PASSWORD} signs at most.")
    plain = _plain(password)
    if plain in _COMMONEST or len(set(plain)) < 4:
        raise InvalidInput(
            "The password is among the first that anybody would try; a few words in a row are "
            "easier to keep in mind and harder to guess."
        )
    if looks_scanned(password):
        raise InvalidInput("That is one of the shop's own codes, which everybody here can scan.")
    for name in names:
        if len(_plain(name)) > 3 and _plain(name) in plain:
            raise InvalidInput(f"The password holds '{name}'; use words nobody would think of.")


def check_pin(pin: str) -> None:
    """Raise InvalidInput unless `pin` is 4 to 8 digits, not all the same and no row of them."""
    if not (pin.isascii() and pin.isdigit() and LEAST_PIN <= len(pin) <= MOST_PIN):
        raise InvalidInput(f"A PIN is {LEAST_PIN} to {MOST_PIN} digits, such as 4 or 6 of them.")
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise InvalidInput(f"{pin} is the first PIN anybody would try; mix the digits.")


def looks_like_pin(text: str) -> bool:
    """Return whether a secret can only be a PIN: no password is that short."""
    return text.isascii() and text.isdigit() and len(text) <= MOST_PIN


def looks_scanned(text: str) -> bool:
    """Return whether a text is one of the shop's own codes: nobody's secret."""
    return read_scan(text).kind in ("tag", "shop code")


def kept(secret: str) -> str:
    """Return what is stored of a password or PIN (scrypt with its own salt)."""
    from werkzeug.security import generate_password_hash

    return generate_password_hash(_same_letters(secret))


def fits(stored: str, secret: str) -> bool:
    """Return whether `secret` is the one `stored` was made of; "" fits nothing.

    Nothing stored takes as long as a wrong secret, so that the time tells nobody who is known.
    """
    from werkzeug.security import check_password_hash

    right = check_password_hash(stored or _nobodys(), _same_letters(secret[:MOST_PASSWORD]))
    return right and bool(stored)


@cache
def _nobodys() -> str:
    return kept("nobody signs in with this")


def _same_letters(secret: str) -> str:
    # The same letter comes as one sign from one keyboard and as two from another.
    return unicodedata.normalize("NFKC", secret)


def _plain(text: str) -> str:
    return "".join(_same_letters(text).casefold().split())
