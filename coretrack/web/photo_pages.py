"""What the templates of photos are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.actions.photos import SHOWS, Album
from coretrack.figures.scan_replies import ScanReply
from coretrack.web.paper_trail import LabelsWanted

NO_LABELS = LabelsWanted()


@dataclass(frozen=True)
class PhotoPage:
    """photos/new.html: one object's photos and the button for the next one.

    `what` is what the next photo shows, `back` where the person came from, empty when unknown;
    `problems` maps a field to what is wrong.
    """

    title: str
    album: Album
    what: str
    back: str
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)
    shows: tuple[str, ...] = SHOWS


@dataclass(frozen=True)
class CodeSeen:
    """A code found in a photo: `text` is what is scanned when it is chosen."""

    text: str
    shown: str
    symbology: str


@dataclass(frozen=True)
class PhotoScanPage:
    """photos/scan.html: the phone as scanner, what was found, what the scan said.

    `go` is the address of the page the reply opens, empty to stay.
    """

    title: str
    page: str
    code: str
    seen: str
    back: str
    codes: tuple[CodeSeen, ...] = ()
    reply: ScanReply | None = None
    go: str = ""
    labels: LabelsWanted = NO_LABELS
    message: str = ""
