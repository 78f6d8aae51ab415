"""Where shipped files lie: beside the package in a wheel, one level up in a checkout."""

from pathlib import Path

from filtration.base.errors import InputError

_PACKAGE = Path(__file__).resolve().parents[1]


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


def template_file() -> Path:
    """Return the file a new study starts from.

    Returns
    -------
    Path
        The short study with the rest as comments.
    """
    return _PACKAGE / "study" / "new_study.toml"


def published_file() -> Path:
    """Return the file of the published cases.

    Returns
    -------
    Path
        A table ``case`` for each.
    """
    return _PACKAGE / "validation" / "published_cases.toml"
