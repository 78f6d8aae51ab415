"""Where shipped files lie: beside the package in a wheel, one level up in a checkout."""

import re
from pathlib import Path

from filtration.base.errors import InputError

_PACKAGE = Path(__file__).resolve().parents[1]
_METRIC_OR_US = re.compile(r"<([^<>|]*)\|([^<>|]*)>")
_REMARK = re.compile(r"^(\S.*?) {2,}# ", re.MULTILINE)


def _folder(packed: str, loose: str) -> Path:
    inside = _PACKAGE / packed
    return inside if inside.is_dir() else _PACKAGE.parent / loose


def pages_folder() -> Path:
    """Return the folder of the pages.

    Returns
    -------
    Path
        It holds ``app.py``.
    """
    return _folder("_ui", "ui")


def demo_names() -> tuple[str, ...]:
    """Return the names of the demo studies.

    Returns
    -------
    tuple of str
        In alphabetical order.
    """
    return tuple(sorted(path.stem for path in _folder("_data_demo", "data_demo").glob("*.toml")))


def demo_file(name: str) -> Path:
    """Return the file of a demo study.

    Parameters
    ----------
    name : str
        One of ``demo_names()``.

    Returns
    -------
    Path
        Its file.

    Raises
    ------
    InputError
        If there is no such demo.
    """
    if name not in demo_names():
        raise InputError(f"there is no demo called {name!r}; there are {', '.join(demo_names())}")
    return _folder("_data_demo", "data_demo") / f"{name}.toml"


def template_text(*, us: bool = False) -> str:
    """Return the text of a new study: what has to be filled in, a shop's list, and the rest as remarks.

    Parameters
    ----------
    us : bool, optional
        In gallons, inches, degF and dollars, else metric and in the currency of the defaults.

    Returns
    -------
    str
        TOML. The template says "<metric|US>" where they differ; remarks are set in a column.
    """
    text = (_PACKAGE / "study" / "new_study.toml").read_text(encoding="utf-8")
    return _REMARK.sub(lambda found: f"{found[1]:<38}  # ", _METRIC_OR_US.sub(r"\2" if us else r"\1", text))


def published_file() -> Path:
    """Return the file of the published cases.

    Returns
    -------
    Path
        A table ``case`` for each.
    """
    return _PACKAGE / "validation" / "published_cases.toml"
