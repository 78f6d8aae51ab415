"""Why a text is no TOML, in an owner's words instead of the parser's."""

import re
from collections.abc import Sequence

from filtration.base.errors import shown

_SECOND = re.compile(r"Cannot (overwrite a value|declare .* twice|mutate|redefine)|Duplicate")
_QUOTE_LEFT_OPEN = ("Illegal character '\\n'", "Unterminated string", 'Expected "\'"')


def why_not_toml(told: str, lines: Sequence[str]) -> str:
    """Say why a text is no TOML.

    Parameters
    ----------
    told : str
        What the parser says, line and column last.
    lines : sequence of str
        The text.

    Returns
    -------
    str
        Where and what, with what to write instead where that is likely.

    Examples
    --------
    >>> why_not_toml("Unterminated string (at end of document)", ['name = "My tub'])
    'is not TOML at line 1: a quote is not closed; text stands between two: volume = "420 L"'
    """
    split = re.fullmatch(r"(.*) \(at (line (\d+), column \d+|end of document)\)", told, re.DOTALL)
    reason, at, number = split.groups() if split else (told, "some place", None)
    line = lines[int(number) - 1] if number else ""
    if _SECOND.match(reason):
        block = re.match(r"\s*\[\[(\w+)\]\]", line)
        hint = f"; put it into the list {block[1]} = [ ... ] above" if block else ""
        return f"is not TOML at {at}: a key or table is there a second time{hint}"
    if re.search(r'\d""', line):
        return f'is not TOML at {at}: a quote stands for inches between quotes; write bore = "3/4 in"'
    if reason.startswith(_QUOTE_LEFT_OPEN) or _opens_a_quote(line):
        at = at if number else next((f"line {n}" for n, each in enumerate(lines, 1) if _opens_a_quote(each)), at)
        return f'is not TOML at {at}: a quote is not closed; text stands between two: volume = "420 L"'
    reason = reason[:1].lower() + reason[1:]
    return f"is not TOML at {at}: {reason if reason.isprintable() else shown(reason)}{_hint(reason, line)}"


def _hint(reason: str, line: str) -> str:
    """Return what to write instead; nothing where that is anyone's guess."""
    if comma := re.fullmatch(r"\s*[\w.\"-]+\s*=\s*(\d+),(\d+)\s*(#.*)?", line):
        decimal = f"{comma[1]}.{comma[2]}"
        in_two_ways = len(comma[2]) == 3 and not comma[1].startswith("0")
        return f"; write {comma[1]}{comma[2]} or {decimal}" if in_two_ways else f"; decimals take a point: {decimal}"
    if re.search("[\u201c-\u201f]", line):
        return '; quotes are straight ones: "'
    if reason == "unclosed array":
        return "; what stands in a list is divided by commas, and a ] ends it"
    if reason == "invalid value" and line.startswith("["):
        return "; the list above it is not ended by a ]"
    if "{" in line:
        return "; what stands in braces is one line, divided by commas, none before the }"
    return (
        '; text stands in quotes: volume = "420 L"'
        if "after a statement" in reason or "invalid value" in reason
        else ""
    )


def _opens_a_quote(line: str) -> bool:
    """Return whether a line has a quote too many, its remark aside."""
    told = line.partition("#")[0]
    return told.count('"') % 2 == 1 or (told.count("'") % 2 == 1 and '"' not in told)
