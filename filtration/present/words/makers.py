"""What a maker's figures changed, in words."""

from collections.abc import Mapping

from filtration.present.words.phrases import number

_ALIKE = 0.02
_DIRT = "dirt like the tub's"


def makers_figures(figures: Mapping[str, float | str]) -> str:
    """Return what the figures of an element's maker changed.

    Parameters
    ----------
    figures : mapping
        Those of the remark "maker's figures"; what the maker does not tell is left out.

    Returns
    -------
    str
        A sentence or two.

    Examples
    --------
    >>> makers_figures({"element": "Pleated 20", "times": 1.43})
    "Pleated 20, by its maker's figures: the clean loss is 1.4 times what its rating and area alone would give."
    """
    known = {key: float(value) for key, value in figures.items() if not isinstance(value, str)}
    parts = []
    if "times" in known:
        parts.append(f"the clean loss is {number(known['times'])} times what its rating and area alone would give")
    if "caught" in known:
        parts.append(
            f"at {known['rating_um']:g} µm it catches {_per_cent(known['caught'])} in one pass instead of "
            f"{_per_cent(known['caught_by_rating'])}"
        )
    if "capacity_g" in known:
        parts += _capacity(known, str(figures.get("pump", "this pump")))
    return f"{figures['element']}, by its maker's figures: {'; '.join(parts)}." if parts else ""


def grams(figures: Mapping[str, float | str]) -> str:
    """Return a stated capacity in words: how much, of which dust, at which pressure.

    Examples
    --------
    >>> grams({"capacity_g": 95.0, "counts_g": 9.5, "at_bar": 1.7})
    '95 g of test dust at 1.7 bar'
    """
    dust = " of test dust" if "counts_g" in figures else ""
    at = f" at {number(float(figures['at_bar']))} bar" if "at_bar" in figures else ""
    return f"{_exact(float(figures['capacity_g']))} g{dust}{at}"


def counted(figures: Mapping[str, float | str]) -> str:
    """Return what a stated capacity counts as, between commas; nothing where it counts gram for gram."""
    return f", counted as {_exact(float(figures['counts_g']))} g of {_DIRT}," if "counts_g" in figures else ""


def _capacity(known: Mapping[str, float], pump: str) -> list[str]:
    """Return what the dirt capacity means, and how much of it the pump can use."""
    means = [f"count as {_exact(known['counts_g'])} g of {_DIRT}"] if "counts_g" in known else []
    dense = known.get("times_as_dense", 1.0)
    if abs(dense - 1.0) > _ALIKE:
        means.append(f"are taken to mean a deposit {number(dense)} times as dense as is assumed")
    parts = [f"{grams(known)} {' and '.join(means)}"] if means else []
    if "usable_g" in known:
        most = known.get("counts_g", known["capacity_g"])
        used = f"{number(known['usable_g'])} g of the" if known["usable_g"] < most * (1.0 - 1e-6) else "all"
        parts.append(
            f"the {number(known['left_bar'])} bar that {pump} leaves for it at {number(known['flow_l_per_h'], 3)} L/h, "
            f"the flow at the rinse, can use {used} {_exact(most)} g"
        )
    return parts


def _exact(value: float) -> str:
    """Return a number as a maker states it."""
    return f"{value:,.6g}"


def _per_cent(share: float) -> str:
    """Return a share, with as many digits as tell it from all."""
    return f"{100.0 * share:.{0 if share < 0.98 else 1}f} %"
