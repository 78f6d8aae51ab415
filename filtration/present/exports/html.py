"""What the pages that leave the program share: templates that escape all text, and what fits on paper."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

Line = tuple[str, bool]


def page_of(template: str, values: Mapping[str, object]) -> str:
    """Return a page.

    Parameters
    ----------
    template : str
        Name of its file beside this module.
    values : mapping
        What stands in it; text is escaped.

    Returns
    -------
    str
        HTML.
    """
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(values)


def drawn(svg: str) -> Markup:
    """Return a picture of ours as it stands; its text was escaped when it was drawn.

    Parameters
    ----------
    svg : str
        What ``pictures.svg_of`` returns.

    Returns
    -------
    Markup
        For a template.
    """
    return Markup(svg)  # noqa: S704 - drawn by us


def short(text: str, most: int) -> str:
    """Return a text that fits.

    Parameters
    ----------
    text : str
        Any text.
    most : int
        Letters that fit.

    Returns
    -------
    str
        The text, cut with an ellipsis where it is longer.

    Examples
    --------
    >>> short("Pleated 20", 20), short("Pleated 20", 6)
    ('Pleated 20', 'Pleat…')
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


def fitting(lines: Sequence[str], most: int) -> list[Line]:
    """Return lines, each with whether there is room for it on paper; a screen shows all.

    Parameters
    ----------
    lines : sequence of str
        The lines.
    most : int
        Letters for which there is room.

    Returns
    -------
    list of (str, bool)
        The first few fit.

    Examples
    --------
    >>> fitting(["one", "two", "three"], 6)
    [('one', True), ('two', True), ('three', False)]
    """
    room, result = most, []
    for line in lines:
        room -= len(line)
        result.append((line, room >= 0))
    return result
