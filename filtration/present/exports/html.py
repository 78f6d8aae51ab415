"""What the pages that leave the program share: templates that escape all text, and what fits on paper."""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup


def render(template: str, values: Mapping[str, object]) -> str:
    """Return a page of HTML: a template, by the name of its file beside this module, with values that are escaped."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(values)


def drawn(svg: str) -> Markup:
    """Return a picture of ours as it stands, for a template; its text was escaped when it was drawn."""
    return Markup(svg)  # noqa: S704 - drawn by us


def short(text: str, most: int) -> str:
    """Return a text cut with an ellipsis where it has more letters than fit.

    Examples
    --------
    >>> short("Pleated 20", 20), short("Pleated 20", 6)
    ('Pleated 20', 'Pleat…')
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


def fitting(lines: Sequence[str], most: float) -> list[tuple[str, bool]]:
    """Return lines, each with whether there is room for it on paper, that is for so many letters; a screen shows all.

    Examples
    --------
    >>> fitting(["one", "two", "three"], 6)
    [('one', True), ('two', True), ('three', False)]
    """
    ends = accumulate(len(line) for line in lines)
    return [(line, end <= most) for line, end in zip(lines, ends, strict=True)]
