"""The page of commands names every command, option and JSON field, and its examples are true."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import Result

from coretrack.cli.main import main

COMMANDS = main.commands

ASK_FOR_JSON = (
    "sales sales.csv",
    "intake returns.csv",
    "intake lot.csv --source TARN --received 2026-04-01 --basis lump --price 105",
    "identify identified.csv",
    "labels --text A1 --stock roll-50x25 --out a1.png",
    "process-checks process_checks.csv",
    "grade readings.csv rework.csv recheck.csv",
    "source-lost basket.csv",
    "standards standards.csv",
    "yield",
    "cost",
    "charge SGH",
    "scan T10021",
    'scan --escapes "[)>\\x1e06\\x1d1P00731\\x1dST10099\\x1e\\x04"',
    "scan QX2207",
    "reading 0.2364 --unit mm --nominal 6",
    "reading 6.004 --unit mm",
    'limits "17 H7"',
    "verify",
)
"""Commands that answer in JSON, in an order in which each has something to say."""

IMPORTS = (
    "sales",
    "intake",
    "identify",
    "process-checks",
    "grade",
    "source-lost",
    "standards",
)


def options(command: click.Command) -> Iterator[click.Option]:
    """Yield a command's own options."""
    for parameter in command.params:
        if isinstance(parameter, click.Option) and parameter.name != "help":
            yield parameter


def described(name: str, sections: dict[str, str]) -> str:
    """Return what the page says of a command, with what it says of all imports or of yield."""
    shared = {"cost": ("yield",), **dict.fromkeys(IMPORTS, ("import options",))}
    return "".join(sections[part] for part in (name, *shared.get(name, ())))


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_and_option_is_described_and_has_help(
    name: str, sections: dict[str, str]
) -> None:
    command = COMMANDS[name]

    assert command.help
    text = described(name, sections)
    for option in options(command):
        flag = max(option.opts, key=len)
        assert re.search(rf"`{flag}\b", text), f"{name} {flag} is not described"
        if isinstance(option.type, click.Choice):
            for choice in option.type.choices:
                assert str(choice) in text, f"{name} {flag} {choice} is not described"


def test_the_page_describes_no_command_or_option_that_is_not_there(
    sections: dict[str, str],
) -> None:
    assert set(sections) - {"import options"} == set(COMMANDS)
    for name, text in sections.items():
        command = COMMANDS["sales" if name == "import options" else name]
        known = {flag for option in options(command) for flag in option.opts}
        told = set(re.findall(r"`(--[a-z-]+)", text))
        assert told <= known, f"{name}: {sorted(told - known)}"


def test_the_options_before_every_command_are_described(page: Callable[[str], str]) -> None:
    text = page("commands.md").split("## setup", maxsplit=1)[0]

    for option in options(main):
        assert f"`{max(option.opts, key=len)}" in text


def test_options_without_a_note_in_the_help_are_few() -> None:
    silent = [
        f"{name} {option.opts[0]}"
        for name, command in COMMANDS.items()
        for option in options(command)
        if not option.help
    ]

    assert silent == ["source --name"]


def test_every_example_does_what_the_page_says(
    examples: list[Any], first_shop: Callable[[str], Result]
) -> None:
    for example in examples:
        done = first_shop(example.command)

        assert done.exit_code == example.exit_code, f"{example.command}\n{done.output}"
        said = done.output.rstrip("\n")
        assert fits(example.printed, said), f"{example.command} prints\n{said}"


def test_every_command_has_an_example(examples: list[Any], page: Callable[[str], str]) -> None:
    shown = {shlex.split(example.command)[1] for example in examples}
    shown |= set(re.findall(r"^    coretrack ([a-z-]+)", page("commands.md"), re.MULTILINE))

    assert shown >= set(COMMANDS)


@pytest.mark.parametrize(
    ("printed", "said"),
    [("a\n…\nd", "a\nd"), ("a\n…\nd", "a\nb\nc\nd"), ("by …, row 2", "by x, row 2"), ("…", "")],
)
def test_dots_in_an_example_stand_for_anything(printed: str, said: str) -> None:
    assert fits(printed, said)


@pytest.mark.parametrize(
    ("printed", "said"), [("a\n…\nd", "a\nb"), ("3 rows", "13 rows"), ("a …", "a \nb")]
)
def test_dots_in_an_example_stand_for_no_more_than_they_should(printed: str, said: str) -> None:
    assert not fits(printed, said)


def fits(printed: str, said: str) -> bool:
    """Return whether output is as printed; … stands for part of a line, alone for whole lines."""
    pattern = ""
    for line in printed.split("\n"):
        if line == "…":
            pattern += r"(?:.*\n)*?"
        else:
            pattern += "[^\n]*?".join(map(re.escape, line.split("…"))) + r"\n"
    return re.fullmatch(pattern, f"{said}\n") is not None


def test_every_field_of_a_json_answer_is_described(
    first_shop: Callable[[str], Result], sections: dict[str, str]
) -> None:
    first_shop("coretrack setup --from .")
    for words in ASK_FOR_JSON:
        name = words.split()[0]
        done = first_shop(f"coretrack {words} --json")
        answer = json.loads(done.stdout, parse_constant=refuse)
        text = described(name, sections)
        missing = {key for key in keys(answer) if f"`{key}`" not in text}

        assert not missing, f"{name}: {sorted(missing)}"


def keys(answer: Any) -> Iterator[str]:
    """Yield every key of a JSON answer, at any depth."""
    if isinstance(answer, dict):
        for key, value in answer.items():
            yield key
            yield from keys(value)
    elif isinstance(answer, list):
        for value in answer:
            yield from keys(value)


def refuse(name: str) -> None:
    """Fail on NaN and infinity, which are not JSON."""
    raise ValueError(f"{name} is not JSON")


def test_the_examples_leave_the_documents_as_they_were(
    root: Path, examples: list[Any], first_shop: Callable[[str], Result]
) -> None:
    before = sorted((root / "docs").rglob("*"))
    for example in examples[:6]:
        first_shop(example.command)

    assert sorted((root / "docs").rglob("*")) == before
