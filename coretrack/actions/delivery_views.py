"""What a delivery's page shows: the delivery, the core in hand, what is proposed, what is stored.

Money is in ten-thousandths, days are ISO text, moments the shop's own clock. A text that is not
known is empty.
"""

from __future__ import annotations

from dataclasses import dataclass

from coretrack.figures.money import Money
from coretrack.figures.trade_objects import Source

GOODS = ("cores", "comebacks", "mixed")
"""What a delivery brings: cores for credit, comebacks under warranty, or both (each is asked)."""

SECOND_COUNT_FROM = 24
"""Pieces from which a second person counts too; common practice, no source."""

DONE_WORDS = {
    "accept": "ACCEPTED",
    "part credit": "PART CREDIT",
    "refuse": "REFUSED",
    "excess": "EXCESS",
    "comeback": "COMEBACK",
    "unknown": "UNKNOWN",
    "counted": "COUNTED",
}
"""The large word for a core once it is stored, by outcome."""

PROPOSED_WORDS = {**DONE_WORDS, "accept": "ACCEPT", "refuse": "REFUSE"}
"""The large word for a core in hand, by what is proposed."""

TONES = {
    "accept": "good",
    "part credit": "ask",
    "refuse": "stop",
    "excess": "ask",
    "comeback": "note",
    "unknown": "note",
    "counted": "note",
}
"""How an outcome looks and sounds (scan_replies.TONES)."""


@dataclass(frozen=True)
class NewDelivery:
    """What is typed or scanned when a delivery is opened, each as typed.

    `customer`: code or name, may be empty when `reference` is a known invoice. `arrived_on`: the
    carrier's day (ISO; empty: today). `pieces`: counted before judging (empty: not counted yet).
    `second_counter`: who counted too, asked from SECOND_COUNT_FROM pieces on. `goods`: see GOODS.
    """

    customer: str = ""
    reference: str = ""
    carrier: str = ""
    arrived_on: str = ""
    pieces: str = ""
    second_counter: str = ""
    goods: str = "cores"
    note: str = ""


@dataclass(frozen=True)
class FaultTick:
    """An acceptance fault that can be ticked; `position` is the digit that ticks it (from 1).

    `times` says how often it is ticked (0: not); more than once only where `each` is set. `words`
    say what it does to the credit.
    """

    position: int
    code: str
    name: str
    words: str
    times: int
    each: bool = False


@dataclass(frozen=True)
class CoreInHand:
    """The core that a person is busy with, as typed so far.

    `comeback` is None while it has to be asked. `number_text` as typed, `number` as the shop writes
    it when it is known. `tag` is set when a core that is in the house already is judged. Photos
    taken now hang on `draft_key` (kind "draft"); `photos` counts them and those of the tag.
    `no_serial`: it comes in without one, whatever stands in `serial`. `ask_note` is a question that
    the note may answer, `offer_photo` whether a photo is worth taking though none is needed.
    """

    delivery: str
    person: str
    draft_key: str
    comeback: bool | None = False
    number_text: str = ""
    illegible: bool = False
    number: str = ""
    number_kind: str = ""
    core_group: str = ""
    group_name: str = ""
    family: str = ""
    family_name: str = ""
    superseded_by: str = ""
    serial: str = ""
    invoice: str = ""
    line: str = ""
    faults: tuple[FaultTick, ...] = ()
    refuse: bool = False
    refusal: str = ""
    no_photo: str = ""
    mass: str = ""
    place: str = ""
    place_name: str = ""
    note: str = ""
    tag: str = ""
    photos: int = 0
    no_serial: bool = False
    ask_note: str = ""
    offer_photo: bool = False


@dataclass(frozen=True)
class LineShown:
    """An open core line: what was sold, until when a core counts, how many are still owed.

    `customer` is named when it is another than the delivery's. `due_on` is empty without a window,
    `window` says the rule in words, `late` whether a core of this delivery comes after it.
    """

    key: str
    invoice: str
    customer: str
    number: str
    core_group: str
    sold_on: str
    charge: Money
    mode: str
    window: str
    due_on: str
    late: bool
    criteria_version: int
    quantity: int
    credited: int
    owed: int


@dataclass(frozen=True)
class OwedInstead:
    """What a customer owes of a core group: `numbers` as sold."""

    core_group: str
    group_name: str
    numbers: tuple[str, ...]
    owed: int


@dataclass(frozen=True)
class SumLine:
    """One line of the arithmetic; what is taken off is negative, a remark is zero."""

    text: str
    amount: Money


@dataclass(frozen=True)
class Need:
    """What is still missing before the core can be stored.

    `field`: count, kind, number, photo, refusal, line or serial; `text` says it to the person.
    """

    field: str
    text: str


@dataclass(frozen=True)
class Proposal:
    """What the rules say of the core in hand, before it is stored.

    `outcome`: accept, part credit, refuse, excess, comeback, unknown, or empty while no number is
    told. `line` is the one it answers, `others` those it could answer too. `owed_before` and
    `owed_after` count units of that line. `credited_so_far` is the money of this delivery already.
    `after_teardown`: the credit is released only after teardown. `hold_until` is the last day a
    refused core is kept. `fingerprint` is handed back when it is stored.
    """

    outcome: str = ""
    word: str = ""
    tone: str = "note"
    sentence: str = ""
    line: LineShown | None = None
    others: tuple[LineShown, ...] = ()
    owed_before: int = 0
    owed_after: int = 0
    arithmetic: tuple[SumLine, ...] = ()
    credit: Money = 0
    settles: str = ""
    credited_so_far: Money = 0
    after_teardown: bool = False
    hold_until: str = ""
    owed_instead: tuple[OwedInstead, ...] = ()
    notes: tuple[str, ...] = ()
    needs: tuple[Need, ...] = ()
    fingerprint: str = ""

    @property
    def ready(self) -> bool:
        """Whether nothing is missing any more."""
        return bool(self.outcome) and not self.needs


@dataclass(frozen=True)
class CoreShown:
    """A core of the delivery that is stored; `word` as it was called out, `at` HH:MM."""

    tag: str
    number: str
    serial: str
    family: str
    outcome: str
    word: str
    tone: str
    state: str
    credit: Money
    line: str
    why: str
    hold_until: str
    by: str
    at: str
    photos: int
    labels: int
    place: str


@dataclass(frozen=True)
class OutcomeTotal:
    """How many cores of the delivery had one outcome, and the money they earned."""

    outcome: str
    word: str
    tone: str
    cores: int
    credit: Money


@dataclass(frozen=True)
class AtWork:
    """Somebody else who has a core of this delivery in hand; `since` is HH:MM."""

    person: str
    number: str
    since: str


@dataclass(frozen=True)
class DeliveryView:
    """Everything that a delivery's page shows.

    `status`: open, closed, difference or given up. `counted` 0 means not counted yet; `taken` are
    the cores stored, `left` what is still to be stored (negative: more than counted).
    `not_judged` are unknown or only counted. `counted_by` says who counted, in words. `cores`
    newest first. `notes` are said aloud. `undo` says what the person can take back, empty when
    nothing; `why_no_undo` then why. `people` are names that may look after a difference.
    `may_give_up`: nothing came in and no core is in hand, so it can be given up.
    """

    code: str
    barcode: str
    status: str
    customer: str
    customer_name: str
    reference: str
    carrier: str
    arrived_on: str
    received_on: str
    goods: str
    note: str
    opened_by: str
    opened_at: str
    counted: int
    counted_by: str
    taken: int
    left: int
    not_judged: int
    difference_by: str
    photos: int
    currency: str
    credited: Money
    totals: tuple[OutcomeTotal, ...]
    cores: tuple[CoreShown, ...]
    in_hand: CoreInHand | None
    proposal: Proposal | None
    owed: tuple[LineShown, ...]
    at_work: tuple[AtWork, ...]
    undo: str
    why_no_undo: str
    people: tuple[str, ...]
    notes: tuple[str, ...] = ()
    may_give_up: bool = False


@dataclass(frozen=True)
class KnownNames:
    """What can be chosen when a delivery is opened: who sends cores back, and who works here."""

    customers: tuple[Source, ...]
    people: tuple[str, ...]


@dataclass(frozen=True)
class DeliveryRow:
    """A delivery in the list of deliveries."""

    code: str
    status: str
    customer: str
    customer_name: str
    reference: str
    arrived_on: str
    received_on: str
    counted: int
    taken: int
    difference_by: str


@dataclass(frozen=True)
class CoreChange:
    """What changes on the core in hand; what is None stays as it is. Texts as typed.

    `faults` are codes, a code as often as it counts. `line` chooses a core line by its key, empty
    lets the rules choose again. `no_serial`: the serial cannot be read or is disputed.
    """

    comeback: bool | None = None
    number: str | None = None
    illegible: bool | None = None
    serial: str | None = None
    invoice: str | None = None
    line: str | None = None
    faults: tuple[str, ...] | None = None
    refuse: bool | None = None
    refusal: str | None = None
    no_photo: str | None = None
    mass: str | None = None
    place: str | None = None
    note: str | None = None
    no_serial: bool | None = None


@dataclass(frozen=True)
class Stored:
    """A core that was stored: its tag, the large word, what it earned, which labels are wanted."""

    tag: str
    outcome: str
    word: str
    tone: str
    amount: Money
    line: str
    sentence: str
    hold_until: str = ""
    after_teardown: bool = False
    print_tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Undone:
    """What was taken back: "core" (out of the books, its label is void) or "judgement"."""

    what: str
    tag: str
    sentence: str
