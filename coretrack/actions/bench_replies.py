"""What the bench answers in words: an entry taken, what comes next, a verdict stored."""

from __future__ import annotations

from coretrack.actions.bench_hand import Entry
from coretrack.actions.bench_sitting import Sitting
from coretrack.actions.bench_store import StoredVerdict
from coretrack.actions.stamped_verdicts import stamps_behind
from coretrack.figures.band_pictures import gauge_divisions
from coretrack.figures.core_verdicts import GRADE_TONES
from coretrack.figures.judging import CheckJudgement, with_unit
from coretrack.figures.plans import Check
from coretrack.figures.scan_replies import ScanReply
from coretrack.figures.tags import show_tag
from coretrack.figures.wording import SAFETY

_OUTCOMES = {
    "new": ("good", "AS NEW"),
    "usable": ("good", "INSIDE"),
    "rework": ("ask", "REWORK"),
    "undecided": ("ask", "TOO CLOSE"),
    "discard": ("stop", "OUTSIDE"),
    "missing": ("note", "TAKEN"),
}
_RESULTS = {
    "none": ("good", "NO CRACK"),
    "indication": ("stop", "CRACK"),
    "unsure": ("ask", "UNSURE"),
    "go": ("good", "GO"),
    "no-go": ("stop", "NO-GO"),
}


def judged_words(check: Check, judgement: CheckJudgement) -> str:
    """Return a judgement's sentence, its distance also in the divisions of the gauge."""
    divisions = gauge_divisions(check, judgement.distance or 0)
    return f"{judgement.sentence} ({divisions})" if divisions else judgement.sentence


def next_words(sitting: Sitting) -> str:
    """Return what the bench waits for now."""
    if not sitting.can_be_inspected:
        return "Scan the tag of the next body."
    check = sitting.current
    if check is None:
        return f"{sitting.verdict.sentence}. Enter stores it."
    wanted = sitting.wanted(check)
    place = min(sitting.taken(check) + 1, wanted)
    return f"Next: {check.name}{f', {place} of {wanted}' if wanted > 1 else ''}."


def entry_said(sitting: Sitting, check: Check, entry: Entry) -> ScanReply:
    """Return the answer to an entry that was taken: what it says, and what comes next."""
    tone, word, line = _of_entry(sitting, check, entry)
    if entry.overdue:
        line += f" Gauge {entry.gauge} is overdue for its check; the reading is stamped."
    if entry.stamps and sitting.waiting:
        line += f" Stamped: {', '.join(entry.stamps)}."
    verdict = sitting.verdict
    if sitting.waiting:
        word_now = verdict.grade.upper()
        lost = f"Proposed: {word_now}. Enter stores it, or go on.\n" if sitting.decided else ""
        return ScanReply(tone, word, line, lost + next_words(sitting))
    return ScanReply(
        GRADE_TONES[verdict.grade],
        f"{verdict.grade.upper()}?",
        f"{verdict.sentence}.",
        "\n".join(
            part for part in (line, stamps_behind(sitting), "Enter stores this verdict.") if part
        ),
    )


def _of_entry(sitting: Sitting, check: Check, entry: Entry) -> tuple[str, str, str]:
    if entry.value is None:
        judgement = sitting.judgement(check.code)
        tone, word = _RESULTS.get(entry.result, ("", ""))
        if not tone:
            tone, word = _OUTCOMES[judgement.outcome][0], f"GRADE {entry.result}"
        return tone, word, f"{judgement.sentence}."
    shown = with_unit(check, entry.value)
    wanted = sitting.wanted(check)
    place = f" {min(sitting.taken(check), wanted)} of {wanted}" if wanted > 1 else ""
    if check.judged == "each":
        judgement = sitting.judged_alone(check, entry.value)
    elif sitting.is_full(check):
        judgement = sitting.judgement(check.code)
    else:
        return "note", "TAKEN", f"{check.name}{place}: {shown}."
    tone, word = _OUTCOMES[judgement.outcome]
    words = judged_words(check, judgement).removeprefix(f"{check.name}: ")
    return tone, word, f"{check.name}{place}: {words}."


def stored_reply(stored: StoredVerdict) -> ScanReply:
    """Return the answer to a verdict that was stored."""
    verdict = stored.verdict
    line = f"{show_tag(stored.tag)}: {verdict.sentence}. {stored.stamped}".strip()
    if stored.look == "drawn":
        return ScanReply(
            GRADE_TONES[verdict.grade],
            verdict.grade.upper(),
            line,
            "Drawn for a blind second look: lay it with the second looks, unmarked, and tell "
            "nobody what came out.\nScan the tag of the next body.",
        )
    words = {
        "keep": SAFETY,
        "rework": f"To: {', '.join(stored.operations)}.",
        "undecided": "Another gauge or another person looks at it next.",
        "open": "What was not measured waits.",
        "scrap": "Mark it, and put it with the scrap.",
    }
    return ScanReply(
        GRADE_TONES[verdict.grade],
        verdict.grade.upper(),
        line,
        f"{words[verdict.grade]}\nScan the tag of the next body.",
    )
