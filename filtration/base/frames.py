"""What a notebook shows: rows as a table of pandas, which is imported only when one is asked for."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pandas import DataFrame

    Frame = DataFrame
else:
    Frame = Any


def frame_of(rows: Iterable[Mapping[str, object]], columns: Sequence[str] | None = None) -> Frame:
    """Return rows as a table, with these columns even where there are no rows."""
    import pandas as pd

    return pd.DataFrame([dict(row) for row in rows], columns=list(columns) if columns else None)


def html_of(tabled: Any) -> str:  # noqa: ANN401 - anything with a table
    """Show the table of a value in a notebook."""
    html: str = tabled.table()._repr_html_()
    return html
