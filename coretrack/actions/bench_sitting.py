"""One core at the bench as it stands now: its plan, what is typed, what that comes to so far."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from coretrack.actions import look_records
from coretrack.actions.bench_hand import BenchHand, Entry, hand_of
from coretrack.actions.inspecting import Bench, findings_of, judged_with
from coretrack.figures.grading import Verdict, barred_operations
from coretrack.figures.judging import CheckJudgement, judge_check
from coretrack.figures.lifecycle import INSPECTABLE, CoreFacts
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check, Plan
from coretrack.figures.rework import BodyHistory, checks_again
from coretrack.records.writer import Writer

UNSETTLED = ("unsure", "indication", "no-go")
"""Words by which nobody lets a body live."""


@dataclass(frozen=True)
class Sitting:
    """A core, the plan it is judged by, and what is typed of it."""

    core: CoreFacts
    plan: Plan
    hand: BenchHand

    @property
    def can_be_inspected(self) -> bool:
        """Whether the core is in a state in which it may be inspected."""
        return self.core.state in INSPECTABLE

    @property
    def seen(self) -> str:
        """What a page shows, in a few signs: the last one is the number of the draft's change."""
        return f"{self.seen_core}.{self.hand.step}"

    @property
    def seen_core(self) -> str:
        """What a page shows of the core: a photo or a label changes nothing that is judged."""
        return f"{self.plan.version}.{self.core.inspections}.{self.core.reworks}"

    @cached_property
    def observations(self) -> tuple[Observation, ...]:
        """What is typed, as findings; a check without anything typed has none."""
        found = []
        for check in self.plan.in_order():
            entries = self.hand.of_check(check.code)
            if entries:
                found.append(self._observation(check, entries))
        return tuple(found)

    def _observation(self, check: Check, entries: tuple[Entry, ...]) -> Observation:
        results = [entry.result for entry in entries if entry.result]
        result = results[-1] if results else ""
        if check.kind == "crack":
            result = self._crack_result(check, results)
        return Observation(
            check.code,
            tuple(entry.value for entry in entries if entry.value is not None),
            result,
            detail="; ".join(entry.detail for entry in entries if entry.detail),
        )

    def _crack_result(self, check: Check, results: list[str]) -> str:
        """Return what a crack check says: an indication stays one whatever is typed after it.

        One that was taken back as a slip leaves a doubt: somebody else has to look.
        """
        if "indication" in results:
            return "indication"
        taken_back = any(
            entry.check == check.code and entry.result == "indication"
            for entry in self.hand.withdrawn
        )
        return "unsure" if taken_back and results[-1] == "none" else results[-1]

    @cached_property
    def verdict(self) -> Verdict:
        """The verdict that what is typed leads to, together with what was found before."""
        return self._judged[1]

    @cached_property
    def merged(self) -> dict[str, Observation]:
        """The findings the core would be judged by, by check."""
        return {observation.check: observation for observation in self._judged[0]}

    @cached_property
    def _judged(self) -> tuple[tuple[Observation, ...], Verdict]:
        return judged_with(self.plan, self.core, self.observations, stopped=True)

    @cached_property
    def barred(self) -> dict[str, str]:
        """The operations that this body may not go through once more, each with why."""
        return barred_operations(self.plan, BodyHistory(self.core.removed, self.core.done))

    @cached_property
    def due(self) -> tuple[str, ...]:
        """The checks that this sitting has to do, in bench order.

        After rework those it worked on or disturbed; of a core that was left open or undecided
        those that were missing or undecided; else all.
        """
        _, before = judged_with(self.plan, self.core, ())
        return tuple(j.check for j in before.judgements if j.outcome in ("missing", "undecided"))

    def judgement(self, code: str) -> CheckJudgement:
        """Return what one check says so far."""
        return next(j for j in self.verdict.judgements if j.check == code)

    def carried(self, check: Check) -> tuple[int, ...]:
        """Return readings of an earlier sitting that this one only completes."""
        if check.code in checks_again(self.plan, self.core.done_since):
            return ()
        values = next((o.values for o in findings_of(self.core) if o.check == check.code), ())
        return values if 0 < len(values) < self.wanted(check) else ()

    def wanted(self, check: Check) -> int:
        """Return how many readings, or words, a check takes."""
        if not check.numeric:
            return 1
        return max(check.readings, 2 if check.judged == "range" else 1)

    def taken(self, check: Check) -> int:
        """Return how many of them are there, those of an unfinished earlier sitting included."""
        entries = self.hand.of_check(check.code)
        if not check.numeric:
            return min(len(entries), 1)
        mine = sum(entry.value is not None for entry in entries)
        # A whole new set replaces an unfinished one; see `inspecting`.
        return mine if mine >= self.wanted(check) else mine + len(self.carried(check))

    def is_full(self, check: Check) -> bool:
        """Return whether a check has all it takes."""
        return self.taken(check) >= self.wanted(check)

    @cached_property
    def current(self) -> Check | None:
        """The check a reading goes to now: the chosen one, else the next that lacks something."""
        if not self.can_be_inspected:
            return None
        if self.hand.asked is not None:
            return self.plan.check(self.hand.asked.entry.check)
        if self.hand.at_check in {check.code for check in self.plan.checks}:
            return self.plan.check(self.hand.at_check)
        return next((c for c in self.waiting), None)

    @property
    def waiting(self) -> tuple[Check, ...]:
        """The checks of this sitting that lack something, in bench order."""
        return tuple(c for c in self.plan.in_order() if c.code in self.due and not self.is_full(c))

    @property
    def decided(self) -> bool:
        """Whether the verdict can be stored as it is: nothing lacks, or the body is lost already.

        A sitting in which nothing was typed never is.
        """
        if not self.can_be_inspected or not self.hand.entries or self.hand.asked is not None:
            return False
        return not self.waiting or self.verdict.grade == "scrap"

    def judged_alone(self, check: Check, value: int) -> CheckJudgement:
        """Return what one reading by itself says at a check, by the same rules."""
        alone = replace(check, readings=1, judged="each")
        return judge_check(alone, Observation(check.code, (value,)), self.barred)


def sitting_of(writer: Writer, tag: str) -> Sitting:
    """Return a core at the bench; NotFound for a tag no core has, NotAllowed without a plan."""
    core: CoreFacts = writer.get("core", tag)
    hand = hand_of(tag)
    plan = plan_begun(Bench(writer), core, hand)
    hand = replace(hand, plan=plan_key(plan))
    return Sitting(core, plan, without_own_doubts(core, plan, hand))


def plan_key(plan: Plan) -> str:
    """Return the key of a plan in the books."""
    return f"{plan.family}/{plan.version}"


def plan_begun(bench: Bench, core: CoreFacts, hand: BenchHand) -> Plan:
    """Return the plan that what is typed of a core was begun by, else the one for the core.

    What was typed by one version is not judged by another one that came meanwhile.
    """
    family, _, version = hand.plan.rpartition("/")
    if hand.begun and not core.plan_version and family and family == core.family:
        return bench.plan(family, int(version))
    return bench.plan_for(core)


def without_own_doubts(core: CoreFacts, plan: Plan, hand: BenchHand) -> BenchHand:
    """Return what is typed without a word by which somebody settles an own doubt.

    Whoever left a check unsure does not settle it; whoever looks next is not told their second
    thoughts either. The words stay with what was taken back.
    """
    if not core.inspections:
        return hand
    doubters = {
        check.code: look_records.doubters(core.tag, check.code)
        for check in plan.checks
        if not check.numeric and hand.of_check(check.code)
    }
    own = tuple(
        entry
        for entry in hand.entries
        if entry.result not in UNSETTLED and entry.by in doubters.get(entry.check, ())
    )
    if not own:
        return hand
    kept = tuple(entry for entry in hand.entries if entry not in own)
    return replace(hand, entries=kept, withdrawn=(*hand.withdrawn, *own))
