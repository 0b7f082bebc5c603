"""Credit notes and notices of refusal in one PDF, each with its own pages, heads and page count."""

from __future__ import annotations

from collections.abc import Sequence

from coretrack.errors import InvalidInput
from coretrack.paper.credit_note import CreditNote, note_paper
from coretrack.paper.page_flow import About, flowing_pdf
from coretrack.paper.refusal_notice import RefusalNotice, notice_paper


def bundle_pdf(
    title: str,
    shop_name: str,
    notes: Sequence[CreditNote],
    notices: Sequence[RefusalNotice],
    page: str = "a4",
) -> bytes:
    """Return all these papers as one PDF, notes first; equal papers give equal bytes.

    `page` is a4 or letter. InvalidInput for another one and when there is no paper.
    """
    papers = [*map(note_paper, notes), *map(notice_paper, notices)]
    if not papers:
        raise InvalidInput("There is no paper to print: no credit note and no notice of refusal.")
    about = About(title, shop_name, "Credit notes and notices of refusal")
    return flowing_pdf(papers, about, page)
