"""Labels that an action wants at once: printed by the shop's command, or offered to the browser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.actions import label_command, station_labels, station_settings
from coretrack.errors import CoretrackError
from coretrack.web.here import doer
from coretrack.web.reply_address import print_address


@dataclass(frozen=True)
class LabelsWanted:
    """Where the browser prints the labels from (empty: not here), and what is said about them."""

    address: str = ""
    words: str = ""


def labels_for(tags: Sequence[str], key: str, *, wash: str = "", back: str = "") -> LabelsWanted:
    """Note these cores' labels as sent and say how they are printed; nothing without tags.

    `wash` is the one the cores come out of, `back` the page that the print page leads back to.
    A printer that fails never takes the core back: the label can be printed again at any time.
    """
    if not tags:
        return LabelsWanted()
    act = station_labels.note_printed
    command = bool(station_settings.station_settings().print_command)
    if command:
        act = label_command.print_by_command
    try:
        run = act(tags, wash=wash, **doer(), key=f"labels:{key}")
    except CoretrackError as error:
        return LabelsWanted(words=f"The label was not printed: {error.message}")
    refused = "; ".join(f"{tag}: {why}" for tag, why in run.refused)
    if command:
        return LabelsWanted(words=refused or "The label is at the printer.")
    return LabelsWanted(print_address(run, back), refused)
