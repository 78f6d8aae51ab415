"""What a maker's figures changed, in words."""

from collections.abc import Mapping

from filtration.present.words.phrases import number

_ALIKE = 0.02
_DENSER = "Makers load mineral dust, which packs denser than what bathers bring: expect less."


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
    dense = known.get("times_as_dense", 1.0)
    if "capacity_g" in known:
        parts += _capacity(known, dense, str(figures.get("pump", "this pump")))
    told = f"{figures['element']}, by its maker's figures: {'; '.join(parts)}." if parts else ""
    return f"{told} {_DENSER}" if dense > 1.0 + _ALIKE else told


def _capacity(known: Mapping[str, float], dense: float, pump: str) -> list[str]:
    """Return what the dirt capacity means, and how much of it the pump can use."""
    whole = f"{number(known['capacity_g'])} g" + (f" at {number(known['at_bar'])} bar" if "at_bar" in known else "")
    parts = []
    if abs(dense - 1.0) > _ALIKE:
        parts.append(f"{whole} mean a deposit {number(dense)} times as dense as is assumed")
    if "usable_g" in known:
        used = f"{number(known['usable_g'])} g" if known["usable_g"] < known["capacity_g"] else "all"
        parts.append(
            f"the {number(known['left_bar'])} bar that {pump} leaves for it at {number(known['flow_l_per_h'], 3)} L/h, "
            f"the flow when due, can use {used} of the {whole}"
        )
    return parts


def _per_cent(share: float) -> str:
    """Return a share, with as many digits as tell it from all."""
    return f"{100.0 * share:.{0 if share < 0.98 else 1}f} %"
