"""Every word of the app stands in one table, and nothing stands there that is not said."""

import ast
import csv
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from photomeasure.pages._form import entries
from photomeasure.pages._words import say

PAGES = Path(__file__).parent.parent / "photomeasure" / "pages"
TABLE = PAGES / "words.csv"
# markup and orders to the browser, no words
NO_WORDS = {"__all__", "_STYLE", "_HTML", "_CSS", "LOOK"}
READ = {"Missing: ", "one check left: "}  # looked for in words of other rooms, not said


def keys() -> dict[str, str]:
    with TABLE.open(encoding="utf-8", newline="") as table:
        return {row["key"]: row["english"] for row in csv.DictReader(table, strict=True)}


def texts(path: Path) -> Iterator[str]:
    """Every string of a module that is no docstring, with a mark for what is put into it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    spared = {id(part) for node in tree.body if is_markup(node) for part in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            spared |= {id(part) for part in node.values}
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            spared.add(id(node.value))  # a docstring
    for node in ast.walk(tree):
        if id(node) in spared:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value
        elif isinstance(node, ast.JoinedStr):
            parts = (one.value if isinstance(one, ast.Constant) else "{}" for one in node.values)
            yield "".join(map(str, parts))


def is_markup(node: ast.stmt) -> bool:
    named = node.targets if isinstance(node, ast.Assign) else []
    return any(isinstance(one, ast.Name) and one.id in NO_WORDS for one in named)


def is_said(text: str) -> bool:
    """Two words beside each other, or one with a capital: somebody is to read it."""
    return bool(re.search(r"[A-Za-z]{2,} [a-z]{2,}|^[A-Z][a-z]{2,}|\*\*[a-z]", text))


@pytest.mark.parametrize("path", sorted(PAGES.glob("*.py")), ids=lambda path: path.stem)
def test_no_page_has_words_of_its_own(path: Path) -> None:
    parts = {entry.part for entry in entries()} | {"A4", "Letter"}  # names in other tables
    own = [text for text in texts(path) if is_said(text) and text not in parts | READ]
    assert [text for text in own if not text.startswith("<")] == []


def test_every_key_is_used_and_every_used_key_is_there() -> None:
    table, used, begun = keys(), set(), set()
    for path in PAGES.glob("*.py"):
        code = path.read_text(encoding="utf-8")
        used |= set(re.findall(r"say\(\s*[\"']([a-z][\w.-]*)[\"']", code))
        begun |= set(re.findall(r"say\(\s*f[\"']([^\"']+)[\"']", code))
        used |= set(re.findall(r"[\"']([a-z]+\.[a-z_]+)[\"']", code)) & set(table)
    ways = [re.compile(re.sub(r"\\\{[^}]*\\\}", r"[\\w-]+", re.escape(way))) for way in begun]
    assert used <= set(table)
    idle = {key for key in set(table) - used if not any(way.fullmatch(key) for way in ways)}
    assert idle == set()


def test_words_are_put_together() -> None:
    assert say("plan.more", count=3) == "3 more"
    with pytest.raises(KeyError):
        say("plan.nothing")
