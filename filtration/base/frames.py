"""What a notebook shows: rows as a table of pandas, which is imported only when one is asked for."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from pandas import DataFrame

    Frame = DataFrame
else:
    Frame = Any


class Tabled(Protocol):
    """Anything with a table."""

    def table(self) -> Frame:
        """Return the table."""


def frame_of(rows: Iterable[Mapping[str, object]], columns: Sequence[str] | None = None) -> Frame:
    """Return rows as a table, with these columns even where there are no rows."""
    import pandas as pd

    return pd.DataFrame([dict(row) for row in rows], columns=list(columns) if columns else None)


def html_of(tabled: Tabled) -> str:
    """Show a table in a notebook."""
    html: str = tabled.table()._repr_html_()  # type: ignore[operator]  # pandas leaves it untyped
    return html
