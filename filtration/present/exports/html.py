"""What the pages that leave the program share: templates that escape all text, and what fits on paper."""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from filtration.present.words.in_units import as_written
from filtration.study.values import Study


def render(template: str, values: Mapping[str, object], study: Study | None = None) -> str:
    """Return a page of HTML: a template, by the name of its file here, its values escaped and in a study's units."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(values if study is None else _written(values, study))


def _written(value: object, study: Study) -> Any:  # noqa: ANN401 - whatever stands in a template
    """Return a value with every text in it in the units of a study; pictures of ours as they are."""
    match value:
        case Markup():
            return value
        case str():
            return as_written(value, study)
        case Mapping():
            return {key: _written(each, study) for key, each in value.items()}
        case list() | tuple():
            return type(value)(_written(each, study) for each in value)
    return value


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
