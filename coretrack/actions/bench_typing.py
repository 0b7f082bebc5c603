"""A text typed at a check of a core: taken, asked back, put aside, or refused in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from coretrack.actions.bench_gauges import gauge_for, gauge_named, take_gauge
from coretrack.actions.bench_hand import Asked, BenchHand, Change, Entry, add_entry, keep_hand
from coretrack.actions.bench_replies import entry_said, next_words
from coretrack.actions.bench_sitting import UNSETTLED, Sitting
from coretrack.actions.crack_entries import told_at
from coretrack.actions.look_records import doubters
from coretrack.actions.offers import offer
from coretrack.errors import NotAllowed
from coretrack.figures.core_story import state_shown
from coretrack.figures.findings import read_at, right_words, word_at
from coretrack.figures.history import canonical
from coretrack.figures.judging import with_unit
from coretrack.figures.plans import Check, look_grades
from coretrack.figures.readings import Question, Reading, too_fine
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.scan_text import printable
from coretrack.figures.tags import show_tag
from coretrack.records.times import to_text
from coretrack.records.writer import Writer

MOST_GAUGES, MOST_CHECKS = 9, 3


class BenchTyping:
    """Takes what is typed at the checks of one core by the writer's person at a core."""

    def __init__(self, writer: Writer, sitting: Sitting, spot: Spot, now: datetime) -> None:
        self.writer = writer
        self.sitting = sitting
        self.spot = spot
        self.now = now

    @property
    def hand(self) -> BenchHand:
        """What is typed of the core."""
        return self.sitting.hand

    def _typed(self, text: str, plain: str) -> ScanReply:
        check = self.sitting.current
        if gauge := gauge_named(plain):
            said = take_gauge(self.writer, gauge, self.sitting.core.family, check)
            return ScanReply("note", "GAUGE", said, next_words(self.sitting))
        self._refuse_unless_inspectable(plain)
        if check is None:
            return self._nothing_waits(text)
        if (late := self._came_unseen()) is not None:
            return self._put_aside(check, text, late)
        return self._at(check, text)

    def _at(self, check: Check, text: str, *, anew: bool = False) -> ScanReply:
        """Take a text at a check that the person saw, or was offered."""
        found = self._entry(check, text)
        if isinstance(found, ScanReply):
            return found
        fresh = anew or found.result == "unsure" or self._others_doubt(check)
        if not fresh and self.sitting.is_full(check):
            return self._full(check, text)
        return self._take(found)

    def _entry(self, check: Check, text: str) -> Entry | ScanReply:
        gauge = gauge_for(self.writer, self.sitting.core.family, check)
        if gauge.others and not gauge.code and any(sign.isdigit() for sign in text):
            return self._which_gauge(check, text, gauge.others)
        blank = Entry(
            check.code,
            printable(text.strip()),
            gauge=gauge.code,
            overdue=gauge.overdue,
            by=self.writer.by,
            station=self.writer.station,
            at=to_text(self.now),
        )
        if not check.numeric:
            word = word_at(check, text)
            if word is None:
                said = f"{check.name}: {right_words(check)}, not “{blank.typed}”."
                return self._not_taken(said)
            if check.kind == "look" and word.result not in ("unsure", *look_grades(check)):
                last = look_grades(check)[-1]
                said = f"{check.name}: grades go from A to {last} here, not “{blank.typed}”."
                return self._not_taken(said)
            found = replace(blank, result=word.result, detail=word.detail)
            if why := self._own_doubt(check, found):
                return self._not_taken(why)
            if check.kind == "crack":
                return told_at(self.writer, self.sitting.core.family, check, found)
            return found
        if text.strip().casefold() == "unsure":
            return replace(blank, result="unsure")
        answer = read_at(check, text)
        if isinstance(answer, Reading):
            entry = replace(blank, value=answer.value)
            if too_fine(answer, check.resolution):
                size = with_unit(check, check.resolution or 0)
                said = f"{blank.typed} is finer than this check is measured ({size})."
                where = f"{said} Does it belong to another check?"
                return self._asked_back(check, entry, Question(blank.typed, where))
            return entry
        if isinstance(answer, Question):
            return self._asked_back(check, replace(blank, value=answer.value), answer)
        return self._not_taken(f"{check.name}: {answer.text}")

    def _take(self, entry: Entry) -> ScanReply:
        check = self.sitting.plan.check(entry.check)
        hand = self.hand
        chosen = replace(self.sitting, hand=replace(hand, entries=(*hand.entries, entry)))
        # A check somebody chose is left by itself once it has all it takes.
        if hand.at_check == check.code and chosen.is_full(check):
            hand = replace(hand, at_check="")
        kept = add_entry(self.writer, hand, entry)
        return entry_said(replace(self.sitting, hand=kept), check, entry)

    def _own_doubt(self, check: Check, entry: Entry) -> str:
        """Return why this person does not settle a check, "" when they may."""
        core = self.sitting.core
        if entry.result in UNSETTLED or not core.inspections:
            return ""
        if entry.by not in doubters(core.tag, check.code):
            return ""
        return f"{check.name}: you left it unsure, so somebody else has to look."

    def _which_gauge(self, check: Check, text: str, gauges: tuple[str, ...]) -> ScanReply:
        """Ask which gauge is in hand, once: the answer counts from then on at this station."""
        return ScanReply(
            "ask",
            "WHICH GAUGE?",
            f"{check.name}: {printable(text.strip())} waits. Which {check.gauge_kind} is in hand?",
            "It counts from now on here; another one's code changes it.",
            offers=tuple(
                offer(f"Gauge {code}", "gauge", canonical([check.code, code, text]))
                for code in gauges[:MOST_GAUGES]
            ),
        )

    def _with_gauge(self, check: Check, code: str, text: str) -> ScanReply:
        """Note the gauge in hand, and take the reading that waited for it."""
        gauge = gauge_named(f"gauge {code}")
        if gauge is None:
            raise NotAllowed(f"Gauge {code} is not in the register any more; measure again.")
        self._refuse_unless_inspectable(text)
        take_gauge(self.writer, gauge, self.sitting.core.family, check)
        return self._at(check, text)

    def _not_taken(self, said: str) -> ScanReply:
        return ScanReply("stop", "NOT TAKEN", said, next_words(self.sitting))

    def _asked_back(self, check: Check, entry: Entry, question: Question) -> ScanReply:
        suggestions = tuple((each.value, each.text) for each in question.suggestions)
        asked = Asked(entry, question.text, suggestions)
        keep_hand(self.writer, replace(self.hand, asked=asked), "asked", entry.typed)
        return self._question(check, asked)

    def _question(self, check: Check, asked: Asked) -> ScanReply:
        offers = [
            offer(f"Take {text}", "meant", canonical([asked.entry.typed, value]))
            for value, text in asked.suggestions
        ]
        if asked.entry.value is not None:
            insist = canonical([asked.entry.typed, asked.entry.value])
            offers.append(offer(f"It is right: {asked.entry.typed}", "meant", insist))
        offers.append(offer("Measure again", "measure"))
        return ScanReply("ask", "REALLY?", f"{check.name}: {asked.text}", offers=tuple(offers))

    def _full(self, check: Check, text: str) -> ScanReply:
        told = canonical([check.code, text])
        line = f"{check.name} has all its readings; {printable(text)} was not taken."
        return ScanReply(
            "ask",
            "AGAIN?",
            line,
            offers=(
                offer(f"Measure {check.name} anew; {text.strip()} is the first", "anew", told),
                offer("Leave it as it is", "measure"),
            ),
        )

    def _nothing_waits(self, text: str) -> ScanReply:
        """Take a second person's word on what another one left unsure; else offer its checks."""
        checks = [check for check in self.sitting.plan.in_order() if self._fits(check, text)]
        doubtful = [check for check in checks if self._others_doubt(check)]
        if len(doubtful) == 1:
            return self._at(doubtful[0], text, anew=True)
        shown = printable(text.strip())
        undo = self._own_last()
        back = f" 'again' takes back your {undo}." if undo else ""
        return ScanReply(
            "ask",
            "ALL DONE",
            f"Every check has what it takes; {shown} was not taken.",
            f"{self.sitting.verdict.sentence}. Enter stores it; choose a check to measure it anew."
            f"{back}",
            offers=tuple(
                offer(f"Measure {check.name} anew: {shown}", "anew", canonical([check.code, text]))
                for check in checks[-MOST_CHECKS:]
            ),
        )

    def _fits(self, check: Check, text: str) -> bool:
        """Return whether a text can be said at a check of which something is typed."""
        if not self.hand.of_check(check.code):
            return False
        if check.numeric:
            return isinstance(read_at(check, text), Reading)
        word = word_at(check, text)
        return word is not None and (check.kind != "look" or word.result in look_grades(check))

    def _others_doubt(self, check: Check) -> bool:
        """Return whether only others were at a check, and left it unsure."""
        entries = self.hand.of_check(check.code)
        mine = any(entry.by == self.writer.by for entry in entries)
        return bool(entries) and not mine and entries[-1].result == "unsure" and not check.numeric

    def _own_last(self) -> str:
        """Return what this person typed last, in words."""
        mine = [entry for entry in self.hand.entries if entry.by == self.writer.by]
        return f"{self.sitting.plan.check(mine[-1].check).name} {mine[-1].typed}" if mine else ""

    def _came_unseen(self) -> Change | None:
        """Return what changed since the page was drawn that its person has to see first."""
        core, _, step = self.spot.seen.rpartition(".")
        if not (step.isascii() and step.isdigit()):
            return None
        if core != self.sitting.seen_core:
            return Change(0, self.sitting.core.inspector or "Somebody", "", "stored a verdict")
        for change in self.hand.changes:
            mine = (change.by, change.station) == (self.writer.by, self.writer.station)
            if change.step > int(step) and (not mine or change.what == "asked"):
                return change
        return None

    def _put_aside(self, check: Check, text: str, late: Change) -> ScanReply:
        plain = printable(text.strip())
        if late.what == "asked" and late.by == self.writer.by:
            said = f"{late.text} was asked back before you typed {plain}."
        else:
            said = (
                f"{late.by} changed this core ({late.what} {late.text}) before you typed {plain}."
            )
        entry = Entry(
            check.code,
            plain,
            by=self.writer.by,
            station=self.writer.station,
            at=to_text(self.now),
        )
        keep_hand(self.writer, replace(self.hand, aside=(*self.hand.aside, entry)), "aside", plain)
        take = offer(f"{plain} is for {check.name}", "for", canonical([check.code, text]))
        leave = offer(f"Leave {plain} out", "leave out", canonical([check.code, text]))
        return ScanReply("ask", "FOR WHICH?", said, offers=(take, leave))

    def _without_aside(self, text: str) -> BenchHand:
        plain = printable(text.strip())
        aside = [e for e in self.hand.aside if (e.typed, e.by) != (plain, self.writer.by)]
        return replace(self.hand, aside=tuple(aside))

    def _keep(self, hand: BenchHand, what: str, text: str) -> None:
        kept = keep_hand(self.writer, hand, what, text)
        self.sitting = replace(self.sitting, hand=kept)

    def _refuse_unless_inspectable(self, plain: str) -> None:
        if self.sitting.can_be_inspected:
            return
        core = self.sitting.core
        not_taken = f"; {printable(plain)} was not taken" if plain else ""
        who = f" ({core.inspector})" if core.inspector else ""
        state = state_shown(core).words
        raise NotAllowed(
            f"Core {show_tag(core.tag)}: {state}{who}{not_taken}. Scan the tag of the next body."
        )

    def _chosen_text(self, verb: str, check: Check, text: str) -> ScanReply:
        self._refuse_unless_inspectable(text)
        if verb == "anew":
            old = self.hand.of_check(check.code)
            left = tuple(entry for entry in self.hand.entries if entry.check != check.code)
            hand = replace(
                self.hand,
                entries=left,
                withdrawn=(*self.hand.withdrawn, *old),
                at_check=check.code,
            )
            self._keep(hand, "measured anew", check.name)
            return self._at(check, text, anew=True)
        self._keep(self._without_aside(text), "sorted", text)
        if verb == "leave out":
            return ScanReply(
                "note", "LEFT OUT", f"{printable(text)} is left out. {next_words(self.sitting)}"
            )
        return self._at(check, text)

    def _meant(self, typed: str, value: int) -> ScanReply:
        """Take what was asked back, as the person says it was meant."""
        asked = self.hand.asked
        if asked is None or asked.entry.typed != typed:
            raise NotAllowed("This question is answered already; look at what is there now.")
        self.sitting = replace(self.sitting, hand=replace(self.hand, asked=None))
        return self._take(replace(asked.entry, value=value))
