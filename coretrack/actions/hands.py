"""The core that a person has in hand, as typed so far: one draft a delivery and person."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

from coretrack.actions import drafts
from coretrack.actions.delivery_views import CoreChange
from coretrack.actions.photos import draft_key
from coretrack.actions.typed_fields import clean_code, grams, plain_words
from coretrack.errors import InvalidInput
from coretrack.figures.part_numbers import trim
from coretrack.figures.tags import is_shop_code, parse_shop_code
from coretrack.records import photos
from coretrack.records.delivery_queries import place_called
from coretrack.records.writer import Writer

PLACES = ("bin", "basket", "rack")
"""Kinds of shop code that name a place where a core can lie."""

_STARTS = {"comebacks": True, "mixed": None}
"""Whether a core of such goods is a comeback; None has to be asked, of others it is none."""


@dataclass(frozen=True)
class Hand:
    """What was told of the core in hand. `comeback` is None while it has to be asked.

    `faults` are codes, a code as often as it counts; `tag` a core that is in the house already.
    `no_serial`: the person says that the serial cannot be read or is disputed; the core then comes
    in without one. `refused_serial` is the one that the books refused last, until it is answered.
    """

    delivery: str
    person: str
    comeback: bool | None = False
    number_text: str = ""
    illegible: bool = False
    serial: str = ""
    invoice: str = ""
    line: str = ""
    faults: tuple[str, ...] = ()
    refuse: bool = False
    refusal: str = ""
    no_photo: str = ""
    mass: str = ""
    place: str = ""
    note: str = ""
    tag: str = ""
    no_serial: bool = False
    refused_serial: str = ""

    @property
    def key(self) -> str:
        """Return the key of the draft, on which its photos hang."""
        return draft_key(self.delivery, self.person)

    @property
    def named(self) -> bool:
        """Return whether it is said which core this is."""
        return bool(self.number_text or self.illegible or self.tag)

    @property
    def lacks_serial(self) -> bool:
        """Return whether the next text may be the serial of a core whose number is told.

        A serial that the books refused is none yet.
        """
        refused = self.serial == self.refused_serial
        return self.named and not self.tag and not self.no_serial and (not self.serial or refused)


def hand_of(delivery: str, person: str) -> Hand | None:
    """Return what a person has in hand of a delivery, or None. Call with a connection."""
    body = drafts.read_draft(draft_key(delivery, person))
    if body is None:
        return None
    return Hand(delivery, person, **{**body, "faults": tuple(body["faults"])})


def new_hand(delivery: str, person: str, goods: str) -> Hand:
    """Return an empty hand; what kind of core it is follows from the goods where that is sure."""
    return Hand(delivery, person, comeback=_STARTS.get(goods, False))


def keep_hand(writer: Writer, hand: Hand) -> None:
    """Keep what is in hand."""
    body = asdict(hand)
    del body["delivery"], body["person"]
    drafts.keep_draft(writer, hand.key, body)


def drop_hand(writer: Writer, delivery: str, person: str = "") -> bool:
    """Drop the core in a person's hand (the writer's own) and its photos; whether there was one."""
    name = draft_key(delivery, person or writer.by)
    dropped = photos.drop_all("draft", name)
    return drafts.drop_draft(writer, name) or bool(dropped)


def changed_hand(hand: Hand, change: CoreChange) -> Hand:
    """Return the hand with what `change` says; InvalidInput names what cannot be read."""
    told = {name: value for name, value in asdict(change).items() if value is not None}
    for name in ("refusal", "no_photo", "note"):
        if name in told:
            told[name] = plain_words(told[name], name)
    for name in ("number", "serial", "invoice"):
        if told.get(name):
            told[name] = clean_code(told[name], name)
    if "number" in told:
        told["number_text"] = told.pop("number")
        if told["number_text"]:
            told.setdefault("illegible", False)
    if told.get("illegible"):
        told["number_text"] = ""
    if told.get("serial") and told["serial"] != hand.serial:
        # Whoever tells another serial has one.
        told.setdefault("no_serial", False)
    if told.get("mass"):
        told["mass"] = trim(told["mass"])
        grams(told["mass"])
    if told.get("place"):
        told["place"] = place_key(told["place"])
    if hand.tag:
        # A core that is in the house came in as what it is; only the judgement is open.
        told.pop("comeback", None)
        told.pop("no_serial", None)
    told["faults"] = tuple(told.get("faults", hand.faults))
    return replace(hand, **told)


def place_key(told: str) -> str:
    """Return the key of the place that a code or a name means; an unknown name as typed."""
    text = trim(told)
    digits = "".join(text.split())
    if is_shop_code(digits):
        found = parse_shop_code(digits)
        if found.kind not in PLACES:
            raise InvalidInput(
                f"'{text}' is a {found.kind}'s code; a core lies in a bin, basket or rack.",
                {"place": "scan the code of a bin, basket or rack"},
            )
        return digits
    known = place_called(text)
    return known.key if known else plain_words(text, "place")


def place_words(writer: Writer, key: str) -> str:
    """Return a place as a person calls it: its name, or "bin 7"."""
    if not key:
        return ""
    known = writer.find("place", key)
    if known is not None and known.name:
        return str(known.name)
    if is_shop_code(key):
        found = parse_shop_code(key)
        return f"{found.kind} {found.number}"
    return key
