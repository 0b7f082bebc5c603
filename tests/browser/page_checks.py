"""What every page must keep to, looked for in the page itself: one script, one list of faults.

Sizes and ratios are those of WCAG 2.1 (1.4.11 contrast of 3:1) and, for gloves, larger: what is
pressed is 44 px high (2.5.5), no text is smaller than 14 px.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import axe_core_python
from playwright.sync_api import Page

AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text("utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]

HELPERS = """
const seen = part => {
    const box = part.getBoundingClientRect(), style = getComputedStyle(part);
    return box.width > 1 && box.height > 1 && style.visibility === 'visible'
        && !part.closest('details:not([open]) > :not(summary)');
};
const called = part => {
    // The circles of one question are one stop: Tab comes to the one that was left last.
    if (part.type === 'radio') return `radio[${part.name}] in ${part.form?.action}`;
    const box = part.tagName.toLowerCase() + (part.id ? '#' + part.id : '')
        + (part.name ? '[' + part.name + ']' : '');
    return box + ' "' + (part.innerText || part.value || '').trim().slice(0, 30) + '"';
};
const CONTROLS = 'a[href], button, summary, select, textarea, input:not([type=hidden]),'
    + ' [tabindex="0"]';
const controls = () => [...document.querySelectorAll(CONTROLS)]
    .filter(part => seen(part) && !part.disabled && part.tabIndex >= 0);
"""

PLAIN = (
    """() => {"""
    + HELPERS
    + """
    const wrong = [];
    const ids = [...document.querySelectorAll('[id]')].map(part => part.id);
    ids.filter((id, place) => ids.indexOf(id) !== place)
        .forEach(id => wrong.push('id twice: ' + id));
    for (const part of controls()) {
        const named = [...(part.labels || [])].map(label => label.innerText).join(' ')
            || part.getAttribute('aria-label') || part.getAttribute('aria-labelledby')
            || part.innerText || part.querySelector('img')?.alt || '';
        if (!named.trim()) wrong.push('no name: ' + called(part));
        if (part.tabIndex > 0) wrong.push('tabindex: ' + called(part));
    }
    document.querySelectorAll('table').forEach(table => {
        const told = table.caption && table.caption.textContent.trim();
        if (!told) wrong.push('table without caption');
    });
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const part = walk.currentNode.parentElement;
        const empty = !walk.currentNode.textContent.trim();
        if (empty || !seen(part) || part.closest('svg, script')) continue;
        const size = parseFloat(getComputedStyle(part).fontSize);
        if (size < 14) wrong.push(`text of ${size} px: ${called(part)}`);
    }
    document.querySelectorAll('audio[autoplay], video[autoplay]')
        .forEach(part => wrong.push('plays by itself: ' + called(part)));
    const wide = document.documentElement.scrollWidth;
    if (wide > window.innerWidth) wrong.push(`${wide} px wide in ${window.innerWidth}`);
    return [...new Set(wrong)];
}"""
)
"""Ids, names, captions, small text, sound by itself, and whether the page scrolls sideways."""

TOUCH = (
    """() => {"""
    + HELPERS
    + """
    const alone = link => link.matches('nav a, .button, .menu a, .offer, th a, .kinds a');
    return controls().filter(part => part.tagName !== 'A' || alone(part)).map(part => {
        const ticked = part.matches('[type=checkbox], [type=radio]');
        const pressed = ticked ? part.closest('label, .tick') || part : part;
        const high = pressed.getBoundingClientRect().height;
        return high < 43.5 ? `${high.toFixed(1)} px high: ${called(part)}` : '';
    }).filter(Boolean);
}"""
)
"""What is too low to press with a glove; links inside a sentence are not meant."""

FOCUS = (
    """() => {"""
    + HELPERS
    + """
    const parts = color => color.match(/[0-9.]+/g).map(Number);
    const ground = of => {
        for (; of; of = of.parentElement) {
            const [r, g, b, a] = parts(getComputedStyle(of).backgroundColor);
            if (a === undefined || a > 0) return [r, g, b];
        }
        return [255, 255, 255];
    };
    const light = ([r, g, b]) => [r, g, b].map(c => c / 255)
        .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
        .reduce((sum, c, at) => sum + c * [0.2126, 0.7152, 0.0722][at], 0);
    const wrong = [];
    for (const part of controls()) {
        part.focus({preventScroll: true});
        if (document.activeElement !== part) {
            wrong.push('takes no focus: ' + called(part));
            continue;
        }
        const style = getComputedStyle(part);
        if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) {
            wrong.push('no outline: ' + called(part));
            continue;
        }
        const [one, two] = [light(parts(style.outlineColor)), light(ground(part.parentElement))];
        const ratio = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
        if (ratio < 3) wrong.push(`outline ${ratio.toFixed(2)}:1 on ${called(part)}`);
    }
    return wrong;
}"""
)
"""Controls whose focus cannot be seen: no outline, or one below 3:1 on what lies around it."""

MOVES = """() => [...document.querySelectorAll('*')].filter(part => {
    const style = getComputedStyle(part);
    const long = text => text.split(',').some(time => parseFloat(time) > 0);
    return long(style.transitionDuration) || long(style.animationDuration)
        || style.scrollBehavior === 'smooth';
}).map(part => part.className || part.tagName)"""
"""What still moves on a page for somebody who asked for rest."""

ORDER = (
    """() => {"""
    + HELPERS
    + """
    const chosen = part => part.type !== 'radio' || part.checked
        || !document.querySelector(`[name="${part.name}"]:checked`);
    return controls().filter(chosen).map(part => {
        const box = part.getBoundingClientRect();
        return [called(part), box.left + scrollX, box.top + scrollY, box.right + scrollX,
            box.bottom + scrollY];
    });
}"""
)
"""Every control that Tab must reach, in the order of the page, with its box."""

FOLLOW = (
    """() => {"""
    + HELPERS
    + """
    scrollTo(0, 0);
    document.body.tabIndex = -1;
    document.body.focus();
    document.body.removeAttribute('tabindex');
    window.reached = [];
    if (!window.following) document.addEventListener('focusin', event => {
        // A field for a day is left with its third or fourth Tab.
        const name = called(event.target);
        if (window.reached.at(-1) !== name) window.reached.push(name);
    });
    window.following = true;
}"""
)
"""Puts the cursor where it is before the first Tab, and notes from then on where it comes."""


_TAB_DOWN: dict[str, Any] = {
    "type": "rawKeyDown",
    "key": "Tab",
    "code": "Tab",
    "windowsVirtualKeyCode": 9,
}


def axe_faults(page: Page, rules: list[str] | None = None, within: str = "html") -> list[str]:
    """Return what axe finds wrong on a page; `rules` are those to run, else all with our tags."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(AXE)
    run = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": TAGS}
    # Nothing is fetched once more: only the rule on sound that plays by itself needs it, and PLAIN
    # looks for that.
    told: dict[str, Any] = {
        "runOnly": run,
        "resultTypes": ["violations"],
        "iframes": False,
        "preload": False,
    }
    found = page.evaluate(
        """([within, told]) => axe.run(within, told).then(result => result.violations.flatMap(
            fault => fault.nodes.map(
                node => `${fault.id}: ${node.target} ${node.failureSummary}`)))""",
        [within, told],
    )
    return [" ".join(str(fault).split()) for fault in found]


def order_faults(page: Page) -> list[str]:
    """Press Tab from a page's top to its end; return what is missed or out of sight order.

    One column is read before the one on its right: a step may go up only when it goes right.
    """
    expected = page.evaluate(ORDER)
    names = [name for name, *_ in expected]
    page.evaluate(FOLLOW)
    days = page.locator("input[type=date]").count()
    keys = page.context.new_cdp_session(page)
    for _ in range(len(names) + 3 * days + 1):
        # The focus moves when the key goes down; half as many messages as a whole press.
        keys.send("Input.dispatchKeyEvent", _TAB_DOWN)
    keys.send("Input.dispatchKeyEvent", {**_TAB_DOWN, "type": "keyUp"})
    keys.detach()
    reached: list[str] = page.evaluate("window.reached")
    once = [name for name, before in zip(names, ["", *names], strict=False) if name != before]
    wrong = [f"not reached: {name}" for name in once if name not in reached]
    if not wrong and reached[: len(once)] != once:
        wrong.append(f"another order: {reached} instead of {once}")
    if set(reached) - set(once):
        wrong.append(f"out of sight: {set(reached) - set(once)}")
    for (one, left, top, *_), (other, *box) in pairwise(expected):
        if one != names[0] and box[3] <= top and box[0] <= left:
            wrong.append(f"jumps up from {one} to {other}")
    return wrong
