"""The words of the house: what an owner reads has the trade's words, and none of those they replaced."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
OLD = re.compile(
    r"wants? (?:a|its|service)\b|\bends by\b|when due|worst view|one sees|\bchoice\b|\bdoes the job|\bdull|\bways out\b"
    r"|what it would take|\bas ever\b|longest time between|thrown? away|\bput up with\b|\bviews?\b|\belements?\b",
    re.IGNORECASE,
)
"""What stood on screen before, and "element" in sentences to an owner, to whom it is a cartridge."""
OURS = re.compile(
    r"\{[^}]*\}|`[^`]*`|\]\([^)]*\)|\[\[elements\]\]|\belements\.\w+|[- “]without[- ]element|\(\?:elements"
)
"""What is no sentence: figures to fill in, code, links, keys of the study file and of the logbook."""
PAGES = [
    "README.md",
    *(f"docs/{name}.md" for name in ("commands", "faq", "makers-figures", "serving", "short-answers", "tutorial")),
    *(str(path.relative_to(ROOT)) for path in sorted((ROOT / "docs").glob("how-*.md"))),
]


def old_words(text: str) -> list[str]:
    return OLD.findall(OURS.sub(" ", text))


def texts(value: Any) -> Iterator[str]:
    """Yield every text in a table of sentences."""
    if isinstance(value, str):
        yield value
    else:
        for each in value.values() if isinstance(value, dict) else value:
            yield from texts(each)


def literals(path: Path) -> Iterator[str]:
    """Yield the sentences and headings that a module holds, its docstrings aside."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            told |= {id(part) for part in node.values}
            yield "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.value


def test_the_old_words_are_found() -> None:
    """The net catches what it is for, and lets names of keys through."""
    assert old_words("It wants a rinse; the choice does the job with a new element.") == [
        "wants a", "choice", "does the job", "element",
    ]  # fmt: skip
    assert not old_words("`elements.price` of [[elements]], log it as “without element”, --without-element")


def test_no_fixed_sentence_has_an_old_word() -> None:
    with (ROOT / "filtration/present/words/sentences.toml").open("rb") as file:
        found = {text: old for text in texts(tomllib.load(file)) if (old := old_words(text))}
    assert not found


@pytest.mark.parametrize("room", ["filtration/present", "filtration/cli", "filtration/plan", "ui"])
def test_no_module_tells_an_old_word(room: str) -> None:
    """Sentences, headings, titles of axes and help: texts with a blank in them, and templates."""
    found = {
        f"{path.relative_to(ROOT)}: {text}"
        for path in sorted((ROOT / room).rglob("*.py"))
        for text in literals(path)
        if " " in text.strip() and old_words(text)
    }
    found |= {
        f"{path.name}: {line}"
        for path in (ROOT / room).rglob("*.j2")
        for line in path.read_text(encoding="utf-8").splitlines()
        if old_words(line)
    }
    assert not found


@pytest.mark.parametrize("page", PAGES)
def test_no_guide_has_an_old_word(page: str) -> None:
    prose = re.sub(r"^```.*?^```", "", (ROOT / page).read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
    assert not {line: old for line in prose.splitlines() if (old := old_words(line))}


HANDS = {
    "power meter": "RCD (GFCI)",
    "a timer": "RCD (GFCI)",
    "its timer": "RCD (GFCI)",
    "cartridge out": "nplug",
    "soak it": "loves on",
    "a lift test": "nplug",
}
"""What a hand is told to do, and what has to stand in the same text."""


@pytest.mark.parametrize("told", HANDS)
def test_a_caution_stands_where_the_hand_is(told: str) -> None:
    """In each fixed sentence that tells one to do it, the steps of a service as one; and in a new study's comments."""
    with (ROOT / "filtration/present/words/sentences.toml").open("rb") as file:
        sentences = tomllib.load(file)
    steps = " ".join(texts(sentences.pop("steps")))
    comments = (ROOT / "filtration/study/new_study.toml").read_text(encoding="utf-8").split("\n\n")
    found = [text for text in (*texts(sentences), steps, *comments) if told in text]
    assert found
    assert not [text for text in found if HANDS[told] not in text]
