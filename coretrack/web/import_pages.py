"""What the templates of files and typed sales are given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from coretrack.actions.customers import BUYING
from coretrack.actions.sale_views import SaleDesk, SaleTerms, SoldLine
from coretrack.actions.sales import MODES
from coretrack.actions.upload_reading import Answer, Preview, UploadKind
from coretrack.figures.trade_objects import Lot, Source

QUESTIONS = {
    "hidden": (
        "Rows that a filter hides",
        (("", "ask me"), ("include", "read them too"), ("skip", "leave them out")),
    ),
    "dates": (
        "Dates such as 3/4/2026",
        (("", "as the file's other dates show"), ("day first", "day first: 3 April"),
         ("month first", "month first: March 4")),
    ),
    "decimal": (
        "Decimal mark",
        (("", "as the file's other numbers show"), (".", "point: 12.50"), (",", "comma: 12,50")),
    ),
}  # fmt: skip
"""How a file is read: each question with its answers, the empty one first."""

BASES = (("piece", "by the piece"), ("weight", "by weight"), ("lump", "for a lump sum"))


@dataclass(frozen=True)
class Link:
    """A way on from what was stored."""

    text: str
    address: str


@dataclass(frozen=True)
class Beside:
    """The fields beside a file: what it is, whom it comes from, how it is read.

    `begun` is the lot that waits for this manifest: its terms are settled and not asked again.
    """

    kind: UploadKind
    kinds: Sequence[UploadKind]
    sources: Sequence[Source]
    typed: Mapping[str, str]
    problems: Mapping[str, str] = field(default_factory=dict)
    begun: Lot | None = None
    asks: Sequence[str] = ()
    questions: Mapping[str, tuple[str, Sequence[tuple[str, str]]]] = field(
        default_factory=lambda: QUESTIONS
    )
    bases: Sequence[tuple[str, str]] = BASES

    @property
    def told(self) -> Sequence[str]:
        """The names of the fields that this kind of file has."""
        settled = ("received", "basis", "price", "freight", "mass", "bid_yield")
        return [name for name in self.kind.told if not (self.begun and name in settled)]

    @property
    def is_open(self) -> bool:
        """Whether the questions about reading stand open, because one must be answered."""
        return bool(self.asks) or any(self.typed.get(name) for name in (*QUESTIONS, "sheet"))


@dataclass(frozen=True)
class FilesPage:
    """files/home.html: without `beside` only the choice of what the file is."""

    kinds: Sequence[UploadKind]
    megabytes: int
    beside: Beside | None = None
    message: str = ""
    title: str = "Read in a file"


@dataclass(frozen=True)
class PreviewPage:
    """files/preview.html: what a file would store, or the `message` why it cannot be read."""

    upload: str
    name: str
    beside: Beside
    preview: Preview | None
    message: str
    title: str = "Look before it is stored"

    @property
    def may_store(self) -> bool:
        """Whether something would be stored and no question is open."""
        found = self.preview
        return found is not None and not found.asks and found.answer.stored > 0


@dataclass(frozen=True)
class AnswerPage:
    """files/answer.html: what a file stored."""

    upload: str
    name: str
    kind: str
    answer: Answer
    links: Sequence[Link]
    again: str
    title: str = "Stored"


@dataclass(frozen=True)
class SalePage:
    """files/sale.html: a sale being typed, and the line that was stored last."""

    desk: SaleDesk
    terms: SaleTerms
    typed: Mapping[str, str]
    problems: Mapping[str, str] = field(default_factory=dict)
    stored: SoldLine | None = None
    key: str = ""
    modes: Sequence[str] = MODES
    buying: Sequence[tuple[str, str]] = tuple((kind, kind) for kind in BUYING)
    title: str = "Type a sale"
