"""Links lead somewhere, every part is explained, and what the pages list is all there is."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Callable, Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "coretrack"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
MODULES = sorted(PACKAGE.rglob("*.py"))
PACKAGES = sorted(path.parent for path in PACKAGE.glob("*/__init__.py"))

LINK = re.compile(r"(?<!`)\[[^\]`\n]+\]\(([^)\s]+)\)")


def anchors(text: str) -> set[str]:
    """Return the anchors of a page's headings, as public code hosts make them."""
    prose = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    headings = re.findall(r"^#+ (.+)$", prose, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def links(text: str) -> list[str]:
    """Return the targets of a page's links that lead to another place of this project."""
    return [target for target in LINK.findall(text) if "://" not in target]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    for target in links(page.read_text(encoding="utf-8")):
        name, _, anchor = target.partition("#")
        goal = page.parent / name if name else page
        assert goal.exists(), f"{page.name} links to {target}"
        if anchor:
            assert anchor in anchors(goal.read_text(encoding="utf-8")), f"{page.name}: {target}"


def test_every_page_is_reached_from_the_readme() -> None:
    reached = {ROOT / "README.md"}
    waiting = list(reached)
    while waiting:
        page = waiting.pop()
        for target in links(page.read_text(encoding="utf-8")):
            goal = (page.parent / target.partition("#")[0]).resolve()
            if goal.suffix == ".md" and goal not in reached:
                reached.add(goal)
                waiting.append(goal)

    assert {page.name for page in PAGES} <= {page.name for page in reached}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_page_names_a_place_on_one_machine(page: Path) -> None:
    text = page.read_text(encoding="utf-8")

    assert not re.search(r"(?:^|[\s`(\"'])/(?:work|tmp|root|home|opt|Users)\b", text)


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_every_module_says_its_duty(module: Path) -> None:
    says = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8")))

    assert says or not module.read_text(encoding="utf-8").strip()
    if says:
        assert says.splitlines()[0].endswith((".", "?")), says


def public(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Yield the public functions, classes and methods of a module; properties aside."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
            for method in [] if is_protocol(node) else node.body:
                plain = isinstance(method, ast.FunctionDef) and not method.decorator_list
                if plain and isinstance(node, ast.ClassDef) and not method.name.startswith("_"):
                    yield f"{node.name}.{method.name}", method


def is_protocol(node: ast.FunctionDef | ast.ClassDef) -> bool:
    """Return whether a class only says what another must offer."""
    bases = node.bases if isinstance(node, ast.ClassDef) else []
    return any(isinstance(base, ast.Name) and base.id == "Protocol" for base in bases)


@pytest.mark.parametrize(
    "module", sorted((PACKAGE / "figures").glob("*.py")), ids=lambda path: path.stem
)
def test_everything_public_in_figures_is_explained(module: Path) -> None:
    tree = ast.parse(module.read_text(encoding="utf-8"))
    silent = [name for name, node in public(tree) if not ast.get_docstring(node)]

    assert not silent


def test_the_map_names_every_package_and_every_leaf() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

    assert PACKAGES
    for package in PACKAGES:
        assert f"{package.name}/" in text
    for leaf in PACKAGE.glob("*.py"):
        if not leaf.name.startswith("__"):
            assert leaf.name in text


def test_every_module_the_map_names_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    in_figures = text.split("    figures/ ")[1].split("      records/ ")[0].splitlines()[1:]
    named = [
        word.strip()
        for line in in_figures
        for word in re.split(r"\s{2,}", line.strip())[0].rstrip("… ").split(",")
    ]

    assert len(named) > 30
    assert [name for name in named if not (PACKAGE / "figures" / f"{name}.py").exists()] == []
    for path in re.findall(r"`((?:cli|actions|figures|records|paper|web)/\w+\.py)`", text):
        assert (PACKAGE / path).exists(), path


def test_every_folder_at_the_top_is_on_the_map() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

    for name in ("coretrack", "templates", "labels", "sample_cores", "docs", "tests"):
        assert f"{name}/ " in text or f"{name}/\n" in text


def test_every_check_against_a_published_source_is_named_on_a_page() -> None:
    pages = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    checks = sorted((ROOT / "tests" / "published").glob("test_*.py"))

    assert checks
    assert [check.name for check in checks if check.name not in pages] == []
    for name in re.findall(r"\[(?:tests/published/)?(test_\w+\.py)\]", pages):
        assert (ROOT / "tests" / "published" / name).exists(), name


def test_every_label_stock_is_on_the_page_of_labels(page: Callable[[str], str]) -> None:
    text = page("identity.md")
    stocks = {path.stem for path in (ROOT / "labels" / "stocks").glob("*.toml")}

    assert set(re.findall(r"`((?:letter|a4|roll)-[\w-]+)`", text)) == stocks


def test_decisions_are_numbered_without_gaps(page: Callable[[str], str]) -> None:
    numbers = [int(number) for number in re.findall(r"^(\d+)\. \*\*", page("decisions.md"), re.M)]

    assert numbers == list(range(1, len(numbers) + 1))


def test_every_library_the_package_uses_is_named_with_its_reason(
    page: Callable[[str], str],
) -> None:
    reasons = page("decisions.md").split("\n2. ")[0].casefold()
    known = packages_distributions()
    used = {
        name
        for module in MODULES
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        for name in roots(node)
    }
    libraries = {known.get(name, [name])[0] for name in used - sys.stdlib_module_names}

    assert [name for name in sorted(libraries) if name.casefold() not in reasons] == []


def roots(node: ast.AST) -> list[str]:
    """Return the packages that an import statement names, ours aside."""
    if isinstance(node, ast.Import):
        return [alias.name.partition(".")[0] for alias in node.names]
    if isinstance(node, ast.ImportFrom) and node.module and not node.level:
        root = node.module.partition(".")[0]
        return [] if root == "coretrack" else [root]
    return []
