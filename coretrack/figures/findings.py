"""What a typed text says at one check: a reading, a word such as go or none, or neither.

Files and pages read the same texts by the same rules.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from coretrack.figures.plans import Check
from coretrack.figures.readings import Question, Reading, Refusal, read_reading

CRACK_WORDS = {
    "none": "none",
    "no indication": "none",
    "no crack": "none",
    "ok": "none",
    "unsure": "unsure",
    "crack": "indication",
    "cracked": "indication",
}
ATTRIBUTE_WORDS = {
    "go": "go",
    "no-go": "no-go",
    "no go": "no-go",
    "nogo": "no-go",
    "unsure": "unsure",
}


@dataclass(frozen=True)
class Word:
    """A result in the words that judging knows, and what was told beside it."""

    result: str
    detail: str = ""


def read_at(check: Check, text: str) -> Reading | Question | Refusal:
    """Return what `text` says as a reading of a numeric `check`."""
    return read_reading(
        text,
        unit=check.unit,
        resolution=check.resolution,
        nominal=check.nominal,
        plausible=check.plausible,
    )


def word_at(check: Check, text: str) -> Word | None:
    """Return what `text` says at a check that takes words, `None` when it is none of them."""
    word = " ".join(text.split()).casefold()
    if check.kind == "crack":
        if word in CRACK_WORDS:
            return Word(CRACK_WORDS[word])
        # "indication: none" must not scrap a body for good; it is asked back.
        if re.match(r"indication\b(?!\W*(?:no|none|nil|0)\b)", word):
            return Word("indication", text.strip()[10:].strip(" ,:;.-–"))
        return None
    if check.kind == "attribute":
        return Word(ATTRIBUTE_WORDS[word]) if word in ATTRIBUTE_WORDS else None
    if check.kind == "look" and re.fullmatch(r"[a-z]|unsure", word):
        return Word(word if word == "unsure" else word.upper())
    return None


def right_words(check: Check) -> str:
    """Return what would be right at a check that takes words."""
    if check.kind == "crack":
        return (
            "write none, unsure, or indication with its type, length and place, like "
            "'indication linear 4 mm at the seat'"
        )
    if check.kind == "attribute":
        return "write go, no-go or unsure"
    return "write one letter, A is the best, or unsure"
