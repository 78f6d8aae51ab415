"""What a notebook shows: rows as a table of pandas, which is imported only when one is asked for."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from filtration.base.units import in_unit

if TYPE_CHECKING:
    from pandas import DataFrame

    Frame = DataFrame
else:
    Frame = Any


def frame_of(rows: Iterable[Mapping[str, object]], columns: Sequence[str] | None = None) -> Frame:
    """Return rows as a table, with these columns even where there are no rows."""
    import pandas as pd

    return pd.DataFrame([dict(row) for row in rows], columns=list(columns) if columns else None)


_US: Mapping[str, tuple[str, Callable[[], float]]] = {
    "l_per_h": ("gph", lambda: in_unit(1.0, "gph") / in_unit(1.0, "L/h")),
    "kpa": ("in_of_water", lambda: in_unit(1e3, "in of water")),
    "m": ("ft", lambda: in_unit(1.0, "ft")),
    "g": ("oz", lambda: in_unit(1e-3, "oz")),
    "k_per_day": ("degf_per_day", lambda: 1.8),
}
"""By the unit at the end of a figure's name, what stands there in US units, and what to multiply by."""
_WITH_UNIT = re.compile(rf"([a-z_]+_)({'|'.join(_US)})(\.p[0-9]+)?")


def us_figure(name: str) -> tuple[str, float]:
    """Return what a figure whose unit stands in its name is called in US units, and what to multiply it by.

    Examples
    --------
    >>> name, times = us_figure("clean_flow_l_per_h.p10")
    >>> name, round(1000.0 * times, 1)
    ('clean_flow_gph.p10', 264.2)
    """
    match = _WITH_UNIT.fullmatch(name)
    if match is None:
        return name, 1.0
    unit, times = _US[match[2]]
    return f"{match[1]}{unit}{match[3] or ''}", times()


def in_us_units(table: Any) -> Any:  # noqa: ANN401 - of pandas
    """Return a table of figures in US units, as the names of its columns then say."""
    import pandas as pd

    columns = {}
    for name in table:
        other, times = us_figure(str(name))
        columns[other] = table[name] if other == name else pd.to_numeric(table[name]) * times
    return pd.DataFrame(columns, index=table.index)


def html_of(tabled: Any) -> str:  # noqa: ANN401 - anything with a table
    """Show the table of a value in a notebook, in the units of its study, if it has one."""
    table, study = tabled.table(), getattr(tabled, "study", None)
    html: str = (in_us_units(table) if study and study.us else table)._repr_html_()
    return html
