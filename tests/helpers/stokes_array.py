"""Stokes flow across endless arrays of cylinders, exactly but for rounding: nothing of the program is used.

Lengths are over the cylinder's radius, velocities over the mean velocity U along x. The stream function is written with
two functions of z = x + iy (Goursat): psi = Im(conj(z) f + g), u - iv = conj(z) f' + g' - conj(f), vorticity
w = -4 Im f', w_x - i w_y = 4i f''. Symmetry leaves sin n theta, n odd. Of the four powers of r with each n two
combinations have no velocity at r = 1; their coefficients follow from the conditions between neighbouring cylinders,
met by least squares at many points (collocation). The coefficient K of r ln r sin theta is the drag's:
F = 4 pi mu K.

``python tests/helpers/stokes_array.py`` prints drags.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
import numpy.typing as npt

from filtration.base.arrays import Array

Plane = npt.NDArray[np.complex128]
MODES, POINTS = 14, 80


@dataclass(frozen=True)
class Fields:
    """What the flow is at some points, one column an unknown: (m, u) each."""

    psi: Array
    velocity: Plane  # u - iv
    vorticity: Array
    slope: Plane  # of the vorticity, w_x - i w_y


def _power(z: Plane, n: int, factor: float) -> tuple[Plane, Plane, Plane]:
    """Return a power of z with its first two derivatives."""
    return factor * z**n, factor * n * z ** (n - 1), factor * n * (n - 1) * z ** (n - 2)


def _sum(*parts: tuple[Plane, ...]) -> tuple[Plane, ...]:
    return tuple(sum(each) for each in zip(*parts, strict=True))  # type: ignore[misc]  # as many as there are parts


def _first(z: Plane, power: int) -> tuple[tuple[Plane, ...], tuple[Plane, ...], float]:
    """Return f and g of (r^power - 1/r - (power + 1) r ln r) sin theta, power 1 or 3, and its coefficient K."""
    k = -(power + 1.0)
    log_f = (-0.5 * k * np.log(z), -0.5 * k / z, 0.5 * k / z**2)
    log_g = (0.5 * k * z * np.log(z), 0.5 * k * (np.log(z) + 1.0), 0.5 * k / z)
    dipole = _power(z, -1, 1.0)  # -1/r sin theta
    if power == 1:
        return log_f, _sum(log_g, dipole, _power(z, 1, 1.0)), k
    return _sum(log_f, _power(z, 2, 1.0)), _sum(log_g, dipole), k


def _higher(z: Plane, n: int, power: int) -> tuple[tuple[Plane, ...], tuple[Plane, ...]]:
    """Return f and g of (r^power + b r^-n + d r^(2-n)) sin n theta without velocity at r = 1, power n or n + 2."""
    b, d = (n - 1.0, -float(n)) if power == n else (float(n), -(n + 1.0))
    inner_f, inner_g = _power(z, 1 - n, -d), _power(z, -n, -b)
    if power == n:
        return inner_f, _sum(inner_g, _power(z, n, 1.0))
    return _sum(inner_f, _power(z, n + 1, 1.0)), inner_g


def fields(z: Plane, modes: int, reach: float) -> tuple[Fields, Array]:
    """Return the flow of each unknown at some points, and the unknowns' coefficients K; ``reach`` scales the powers."""
    psi, velocity, vorticity, slope, drags = [], [], [], [], []
    for n in range(1, 2 * modes, 2):
        for power in (n, n + 2):
            if n == 1:
                (f, f1, f2), (g, g1, _), k = _first(z, power)
            else:
                ((f, f1, f2), (g, g1, _)), k = _higher(z, n, power), 0.0
            scale = reach**-power
            psi.append(scale * (z.conj() * f + g).imag)
            velocity.append(scale * (z.conj() * f1 + g1 - f.conj()))
            vorticity.append(scale * -4.0 * f1.imag)
            slope.append(scale * 4j * f2)
            drags.append(scale * k)
    columns = [np.stack(each, axis=-1) for each in (psi, velocity, vorticity, slope)]
    return Fields(*columns), np.array(drags)


Rows = tuple[Array, Array]


def _square(solid_fraction: float, modes: int, points: int) -> tuple[Array, Array, Array]:
    """Return the equations of a square array, a side along the flow, and the coefficients K."""
    half = 0.5 * sqrt(pi / solid_fraction)
    along = half * (np.arange(points) + 0.5) / points
    side, drags = fields(half + 1j * along, modes, sqrt(2.0) * half)
    top, _ = fields(along + 1j * half, modes, sqrt(2.0) * half)
    none = np.zeros(points)
    parts: list[Rows] = [
        (side.velocity.imag, none),  # mirror: no velocity across the flow where neighbours meet head on
        (half * side.slope.real, none),
        (top.psi / half, none + 1.0),  # the flux of half a cell passes below
        (top.vorticity, none),  # mirror: no shear
    ]
    return np.concatenate([rows for rows, _ in parts]), np.concatenate([right for _, right in parts]), drags


def _hexagonal(solid_fraction: float, modes: int, points: int) -> tuple[Array, Array, Array]:
    """Return the equations of a hexagonal array, rows of nearest neighbours along the flow, and the coefficients K."""
    spacing = sqrt(2.0 * pi / (sqrt(3.0) * solid_fraction))
    reach = spacing / sqrt(3.0)
    share = (np.arange(points) + 0.5) / points
    side, drags = fields(0.5 * spacing + 0.5j * reach * share, modes, reach)
    middle = spacing * (0.25 + 0.25j * sqrt(3.0))
    away = np.exp(-1j * pi / 6.0) * 0.5 * reach * share  # along the slanting edge, from its middle on
    one, _ = fields(middle + away, modes, reach)
    other, _ = fields(middle - away, modes, reach)
    normal = np.exp(1j * pi / 3.0)
    none = np.zeros(points)
    parts: list[Rows] = [
        (side.velocity.imag, none),
        (spacing * side.slope.real, none),
        ((one.psi + other.psi) / middle.imag, none + 2.0),  # half a turn about the middle of the edge: u is even
        ((one.velocity - other.velocity).real, none),
        ((one.velocity - other.velocity).imag, none),
        (one.vorticity + other.vorticity, none),
        (spacing * ((one.slope - other.slope) * normal).real, none),
    ]
    return np.concatenate([rows for rows, _ in parts]), np.concatenate([right for _, right in parts]), drags


ARRAYS: dict[str, Callable[[float, int, int], tuple[Array, Array, Array]]] = {
    "square": _square,
    "hexagonal": _hexagonal,
}


def drag(solid_fraction: float, array: str = "square", modes: int = MODES, points: int = POINTS) -> tuple[float, float]:
    """Return the drag on a cylinder over viscosity, mean velocity and length, and how well the conditions are met."""
    rows, right, drags = ARRAYS[array](solid_fraction, modes, points)
    size = np.linalg.norm(rows, axis=0)
    found = np.linalg.lstsq(rows / size, right, rcond=None)[0] / size
    return 4.0 * pi * float(drags @ found), float(np.abs(rows @ found - right).max())


if __name__ == "__main__":
    for name in ARRAYS:
        for solid in (0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60):
            print(name, solid, *(f"{each:.6g}" for m in (6, 10, 14, 18) for each in drag(solid, name, m)))  # noqa: T201 - what it is run for
