"""The core-charge sheet: what a good body costs and what charge follows, one block a family.

Sized to print whole on A4 and on Letter. The same summary always gives the same bytes.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostRow
from coretrack.figures.money import shown
from coretrack.figures.plain_words import counted
from coretrack.figures.summary import ShopSummary
from coretrack.figures.wording import (
    NO_FIGURE,
    NONE_SUGGESTED,
    OWNER_DECIDES,
    SAFETY,
    charge_range,
    charge_verdict,
    cost_counted,
    cost_figure,
    good_body_origin,
    other_warnings,
    returns_line,
    sentence,
    yield_line,
)
from coretrack.figures.yields import YieldRow
from coretrack.paper.charts import WATERFALL_TITLE, charge_scale, waterfall
from coretrack.paper.drawing import paper_colour, to_shapes
from coretrack.paper.letters import printable

# Both sheets, in points; what is printed stays inside both whichever one is in the tray.
SHEETS = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
WIDTH = 515.0
COLUMN = (WIDTH - 24) / 2
HEIGHT = 740.0
HEAD = 48.0
FOOT = 58.0
GAP = 6.0
TITLE = 30.0
CAPTION = 15.0
SIZE = 8.0
LEADING = 9.6

# Charts are drawn at 11 points; the largest of these scales that fits on one page is printed.
SCALES = (0.85, 0.8, 0.75, 0.7, 0.66)
SCALE_OF_MANY = 0.75

LEGEND = (
    "Make-whole range: what one more returned core is worth, plus sourcing it elsewhere, at the"
    " low and the high end of the yield. Below the floor cores stay away; above the ceiling people"
    " buy junk to hand it in."
)


def charge_sheet_pdf(summary: ShopSummary, sheet: str = "A4") -> bytes:
    """Return the sheet as PDF bytes; `sheet` is A4 or Letter (InvalidInput otherwise).

    Families with figures come first in the summary's order; those without get a sentence. Blocks
    never break across pages.
    """
    if sheet not in SHEETS:
        raise InvalidInput(f'Sheet "{sheet}" is not known; use A4 or Letter.')
    from reportlab.pdfgen.canvas import Canvas

    buffer = BytesIO()
    # invariant: no clock and no random id in the file, so equal figures print equal bytes.
    canvas = Canvas(buffer, pagesize=SHEETS[sheet], invariant=1)
    canvas.setTitle(printable(f"Core charges, {summary.shop_name}"))
    canvas.setAuthor(printable(summary.shop_name))
    canvas.setSubject("Yield, cost per good body and core charge of each family")
    page = _Page(canvas, summary, SHEETS[sheet])
    blocks = _fitting(summary)
    page.start()
    if not blocks:
        page.text("No family has a core-charge line yet: receive and grade cores first.")
    for block in blocks:
        if page.room < block.height:
            page.turn()
        block.draw(page)
    page.finish()
    canvas.save()
    return buffer.getvalue()


def _fitting(summary: ShopSummary) -> list[_Block]:
    for scale in SCALES:
        blocks = [_Block(advice, summary, scale) for advice in summary.charges]
        if sum(block.height for block in blocks) <= HEIGHT - FOOT - HEAD:
            return blocks
    return [_Block(advice, summary, SCALE_OF_MANY) for advice in summary.charges]


class _Page:
    """A cursor that runs down the printable box; (0, 0) is its upper left corner."""

    def __init__(self, canvas: Any, summary: ShopSummary, size: tuple[float, float]) -> None:
        self.canvas = canvas
        self.summary = summary
        self.left = (size[0] - WIDTH) / 2
        self.top = size[1] - (size[1] - HEIGHT) / 2
        self.y = 0.0
        self.number = 0

    @property
    def room(self) -> float:
        return HEIGHT - FOOT - self.y

    def start(self) -> None:
        self.number += 1
        self.y = 0.0
        self.canvas.bookmarkPage(f"page{self.number}")
        made = self.summary.made_at
        self.put(0, 16, f"Core charges, {self.summary.shop_name}", 17, bold=True)
        when = f"{made:%Y-%m-%d %H:%M}, amounts in {self.summary.currency}"
        self.put(WIDTH, 16, when, 9, "soft", "end")
        became = ", ".join(f"{count:,} {name}" for name, count in self.summary.whereabouts)
        self.put(0, 32, f"{counted(self.summary.received, 'core')} in: {became}", 8.7)
        self.rule(40, "ink", 1.2)
        self.y = HEAD

    def turn(self) -> None:
        self.finish()
        self.start()

    def finish(self) -> None:
        self.rule(HEIGHT - FOOT + 8, "rule", 0.6)
        y = HEIGHT - FOOT + 18
        self.put(0, y, OWNER_DECIDES, SIZE, bold=True)
        self.put(WIDTH, y, f"Page {self.number}", SIZE, "soft", "end")
        for words, tone in ((LEGEND, "soft"), (SAFETY, "ink")):
            for line in wrapped(words, WIDTH, SIZE):
                y += 10
                self.put(0, y, line, SIZE, tone)
        self.canvas.showPage()

    def text(self, words: str, x: float = 0.0, width: float = COLUMN) -> None:
        """Write `words` at the cursor from `x` on, wrapped to `width`, and move down."""
        for line in wrapped(words, width, SIZE):
            self.y += LEADING
            self.put(x, self.y, line, SIZE)

    def put(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        tone: str = "ink",
        anchor: str = "start",
        bold: bool = False,
    ) -> None:
        """Write one line with its baseline at (x, y)."""
        self.canvas.setFillColor(paper_colour(tone))
        self.canvas.setFont("Helvetica-Bold" if bold else "Helvetica", size)
        place = (self.left + x, self.top - y, printable(words))
        if anchor == "end":
            self.canvas.drawRightString(*place)
        else:
            self.canvas.drawString(*place)

    def rule(self, y: float, tone: str, thickness: float) -> None:
        """Draw a line across the page."""
        self.canvas.setStrokeColor(paper_colour(tone))
        self.canvas.setLineWidth(thickness)
        self.canvas.line(self.left, self.top - y, self.left + WIDTH, self.top - y)

    def draw(self, drawing: Any, x: float, y: float) -> None:
        """Draw a reportlab drawing with its upper left corner at (x, y)."""
        from reportlab.graphics import renderPDF

        renderPDF.draw(drawing, self.canvas, self.left + x, self.top - y - drawing.height)


class _Block:
    """One family: a line of figures, two charts side by side, and the sentences under them.

    What to take care of runs across the whole width: it is the longest text, and the sheet is full.
    """

    def __init__(self, advice: ChargeAdvice, summary: ShopSummary, scale: float) -> None:
        self.advice = advice
        names = (advice.family, advice.family_name)
        cost = next((row for row in summary.costs if row.group in names), None)
        yields = next((row for row in summary.yields if row.group in names), None)
        self.cost = cost
        half = COLUMN / scale
        self.prices = to_shapes(charge_scale(advice, half), scale)
        self.steps = None
        if cost is not None and cost.cost_per_good_body is not None:
            self.steps = to_shapes(waterfall(cost, half), scale)
        self.sentences = _sentences(advice, cost, yields)
        self.care = _care(advice, cost)
        # The sentences stand under the shorter chart, or in the place of the one that is missing.
        self.left_text = self.steps is None

    @property
    def height(self) -> float:
        """What the block takes of the page, in points."""
        left = _chart_height(self.steps)
        right = _chart_height(self.prices)
        text = LEADING * len(wrapped(self.sentences, COLUMN, SIZE))
        care = LEADING * len(wrapped(self.care, WIDTH, SIZE))
        if self.left_text:
            left += text
        else:
            right += text
        return TITLE + max(left, right) + care + 5 + GAP

    def draw(self, page: _Page) -> None:
        """Draw the block at the page's cursor and move it down by the block's height."""
        end = page.y + self.height
        advice = self.advice
        page.put(0, page.y + 13, advice.family_name, 13, bold=True)
        page.put(WIDTH, page.y + 13, _suggested_words(advice), 12, "hue", "end", bold=True)
        page.put(0, page.y + 27, _cost_words(advice, self.cost), 10, bold=True)
        page.put(WIDTH, page.y + 27, _today_words(advice), 10, anchor="end")
        left, right = 0.0, WIDTH - COLUMN
        y = page.y + TITLE
        if self.steps is not None:
            page.put(left, y + 9, WATERFALL_TITLE, SIZE, "soft")
            page.draw(self.steps, left, y + CAPTION - 2)
        if self.prices.height:
            page.put(right, y + 9, "Core charge on one scale", SIZE, "soft")
            page.draw(self.prices, right, y + CAPTION - 2)
        page.y = y if self.left_text else y + _chart_height(self.prices)
        page.text(self.sentences, left if self.left_text else right)
        page.y = end - GAP - 5 - LEADING * len(wrapped(self.care, WIDTH, SIZE))
        page.text(self.care, left, WIDTH)
        page.rule(end - GAP, "rule", 0.6)
        page.y = end


def _chart_height(drawing: Any) -> float:
    return CAPTION + float(drawing.height) if drawing is not None and drawing.height else 0.0


def _suggested_words(advice: ChargeAdvice) -> str:
    suggested = charge_range(advice)
    if suggested == NONE_SUGGESTED:
        return "No charge suggested"
    return f"Suggested: {suggested}" if suggested == NO_FIGURE else f"Suggested {suggested}"


def _cost_words(advice: ChargeAdvice, row: CostRow | None) -> str:
    cost = cost_figure(advice.cost_per_good_body, advice.cost_low, advice.cost_high)
    colon = ":" if advice.cost_per_good_body is None else ""
    return f"Cost per good body{colon} {cost}    {cost_counted(advice, row)}"


def _today_words(advice: ChargeAdvice) -> str:
    if advice.charge_today is None:
        return "No charge set today"
    since = "" if advice.charge_since is None else f" since {advice.charge_since:%Y-%m-%d}"
    return f"Today {shown(advice.charge_today)}{since}"


def _sentences(advice: ChargeAdvice, cost: CostRow | None, yields: YieldRow | None) -> str:
    """Return what stands under the shorter chart: verdict, yield and the origin of G."""
    said = [charge_verdict(advice)]
    if yields is not None and yields.body_yield is not None:
        said.append(f"Yield {yield_line(yields)} (95 % interval).")
    if basis := returns_line(advice, cost):
        said.append(basis)
    if advice.good_body is not None or not advice.why:
        said.append(good_body_origin(advice.good_body))
    if advice.decided and cost is not None and cost.cost_per_good_body is None and cost.why:
        said.append(f"No cost per good body: {cost.why.rstrip('.')}.")
    return " ".join(said)


def _care(advice: ChargeAdvice, cost: CostRow | None) -> str:
    """Return the family's warnings as one paragraph, nothing where there is none."""
    warnings = [sentence(text) for text in other_warnings(advice, cost)]
    return f"Take care: {' '.join(warnings)}" if warnings else ""


def wrapped(words: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Return `words` broken into lines no wider than `width` points; long words are cut."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    face = "Helvetica-Bold" if bold else "Helvetica"
    lines: list[str] = []
    line = ""
    left = printable(words).split()
    # Most texts on paper are one short line: then one measure is enough.
    whole = " ".join(left)
    if left and stringWidth(whole, face, size) <= width:
        return [whole]
    while left:
        word = left.pop(0)
        longer = f"{line} {word}".strip()
        if stringWidth(longer, face, size) <= width:
            line = longer
        elif line:
            lines.append(line)
            line = ""
            left.insert(0, word)
        else:
            fits = (
                n for n in range(len(word), 1, -1) if stringWidth(word[:n], face, size) <= width
            )
            cut = next(fits, 1)
            lines.append(word[:cut])
            left.insert(0, word[cut:])
    return [*lines, line] if line else lines
