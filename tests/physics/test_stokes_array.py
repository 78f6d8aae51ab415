"""Exact Stokes flow across arrays of cylinders: against the tables in print, and our permeability law against both."""

from math import log, pi

import numpy as np
import pytest
from stokes_array import ARRAYS, MODES, drag

from filtration.base.places import published_file
from filtration.physics.permeability import permeability_m2
from filtration.validation.published import cases_in

(TABLE,) = [case for case in cases_in(published_file()) if case.call == "mat_over_array"]
"""Sangani & Acrivos 1982, table 1: F/(mu U) of square arrays, and between which bounds our law lies over theirs."""
PRINTED = list(zip(TABLE.inputs["solid_fraction"], TABLE.inputs["drag"], strict=True))


def our_law_over(array: str, solid_fraction: float) -> float:
    """Return our permeability over that of an array, k/d2 = pi/(4 a F)."""
    exact = pi / (4.0 * solid_fraction * drag(solid_fraction, array)[0])
    return float(permeability_m2(solid_fraction, 1.0)) / exact


@pytest.mark.parametrize(("solid_fraction", "printed"), PRINTED)
def test_square_arrays_have_the_drag_in_print(solid_fraction: float, printed: float) -> None:
    """Within 0.05 %: the table has four or five digits."""
    assert TABLE.source.startswith("Sangani & Acrivos 1982")
    assert drag(solid_fraction)[0] == pytest.approx(printed, rel=5e-4)


@pytest.mark.parametrize("solid_fraction", [0.05, 0.10, 0.20, 0.30])
def test_hexagonal_arrays_have_the_drag_of_the_series_in_print(solid_fraction: float) -> None:
    """Drummond & Tahir 1984 (from memory), for open ones: F = 8 pi / (-ln a - 1.497 + 2 a - a^2/2 - ...)."""
    a = solid_fraction
    series = -log(a) - 1.497 + 2.0 * a - a**2 / 2.0 - 0.739 * a**4 + 2.534 * a**5 / (1.0 + 1.2758 * a)
    assert drag(a, "hexagonal")[0] == pytest.approx(8.0 * pi / series, rel=5e-3)


@pytest.mark.parametrize("array", ARRAYS)
@pytest.mark.parametrize("solid_fraction", [0.05, 0.20, 0.40])
def test_more_terms_change_nothing(array: str, solid_fraction: float) -> None:
    """The series has converged: two terms more move the drag by less than 0.01 %, and all conditions are met."""
    found, missed = drag(solid_fraction, array)
    assert drag(solid_fraction, array, modes=MODES + 2)[0] == pytest.approx(found, rel=1e-4)
    assert missed < 2e-3


def test_a_sparse_array_does_not_know_its_pattern() -> None:
    """The first term, -ln a / 2, is that of any pattern: what is left differs by the patterns' constants alone.

    Hasimoto 1959: 0.738 for the square array; the hexagonal one's 0.749 after Drummond & Tahir 1984 (from memory).
    """
    a = 1e-4
    for array, constant in (("square", 0.738), ("hexagonal", 0.749)):
        assert -0.5 * log(a) - 4.0 * pi / drag(a, array, modes=6)[0] == pytest.approx(constant, abs=1e-3)


def test_our_law_lies_over_the_exact_square_array_as_the_published_check_says() -> None:
    """A random mat is more open than an array, but not twice, over the range of the table."""
    assert TABLE.between is not None
    low, high = TABLE.between
    ratios = [our_law_over("square", a) for a in np.linspace(0.05, 0.40, 8)]
    assert low <= min(ratios)
    assert max(ratios) <= high


def test_our_law_is_more_open_than_the_hexagonal_array_too() -> None:
    """Whatever the pattern, a random mat is more open: Jackson & James 1986 (from memory)."""
    assert min(our_law_over("hexagonal", a) for a in np.linspace(0.05, 0.40, 8)) > 1.0
