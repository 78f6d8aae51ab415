"""Which constants a measurement from outside holds, and what would settle the others.

A constant counts that moves a demo tub's days, visibility or yearly cost by more than a fifth, when it is moved by two
either way, or across 1 to 99 % of its own spread where that is wider. It is held where a published case then fails that
measures something worked out from it; a case that restates it holds nothing. ``tests/bench/bench_constants.py`` finds
all of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A constant held from outside.

    Parameters
    ----------
    key : str
        The constant, see ``filtration.base.defaults``.
    less, more : str
        The published case, by its name, that fails with less and with more of it; empty where none does.
    """

    key: str
    less: str = ""
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """Constants that are ours alone, and the reading of an owner's that settles them.

    Parameters
    ----------
    what, reading : str
        What they are, and what to read.
    keys : tuple of str
        The constants.
    """

    what: str
    reading: str
    keys: tuple[str, ...]


_SPUN = "clean loss of a spun 10-inch element of 10 µm at 6.6 and 8.8 US gallons a minute"
_LONG = "clean loss of a spun 20-inch element over that of a 10-inch one at 6.6 US gallons a minute"
_WOUND = "clean loss of wound 10-inch elements of 3, 5, 10, 20, 30, 50 and 75 µm at 1 US gallon a minute"
_FALL = "clean loss of wound elements of 75 µm over that of 3 µm"
_SIZES = "flow of a wide depth element over that of a slim one at the same loss, 10 and 20 inch long"
_SHEET = "weight of a pleated sheet of polyester"
_FINE = "5 µm particles, clean elements of 5 and 10 µm"
_DUE = "5 µm particles, the best element of 20 µm and coarser of the demo tubs at the rinse"
_CAKED = "5 µm particles, pleats of 20 µm full of cake"
_FULL = "test dust in a spun 10-inch element of 100 µm filled to the brim"
_PUMP = "flow of a fountain pump of 25 W at nine lifts, by its flow at none and its largest lift"
_COUNT = "particles of 2 to 50 µm that a bather brings"
_DISC = "black disc in the clearest water"

HELD: tuple[Held, ...] = (
    Held(key="pump.exponent", less=_PUMP, more=_PUMP),
    Held(key="media.spun_fibre_per_root_micron", less=_SPUN, more=_SPUN),
    Held(key="media.core_diameter", less=_LONG),
    Held(key="media.wound_solid_fraction", less=_WOUND, more=_WOUND),
    Held(key="media.wound_solid_exponent", less=_FALL, more=_FALL),
    Held(key="media.depth_shell", more=_SIZES),
    Held(key="media.sheet_solid_fraction", less=_SHEET, more=_SHEET),
    Held(key="capture.slope", less=_DUE, more=_FINE),
    Held(key="capture.straining_cake", less=_CAKED, more=_CAKED),
    Held(key="loading.deposit_density", less=_FULL, more=_FULL),
    Held(key="soil.fines_per_dip", less=_COUNT, more=_COUNT),
    Held(key="optics.black_disc", less=_DISC, more=_DISC),
)

CONTRADICTED: Mapping[str, str] = {
    "pump.share_of_box_flow": "the share of its box flow that a pump gives (0.9; five small pumps gave 0.67 to 0.85)",
    "capture.bypass": "the share of water that bypasses a cartridge (0.11; wound ones held 93.1 to 99.1 % of solids)",
}

ALONE: tuple[Alone, ...] = (
    Alone(
        what="the dirt that a dip brings, and its sizes",
        reading="days between services, dips counted",
        keys=(
            "soil.skin_per_dip", "soil.skin_spread", "soil.hair_per_dip", "soil.fines_median", "soil.feet_spread",
            "soil.shower_takes_off",
        ),
    ),
    Alone(
        what="the cake, when it forms, and growth in the deposit",
        reading="a clear tube through one run",
        keys=("loading.cake_resistance", "loading.onset_void_filled", "loading.growth_per_day"),
    ),
    Alone(
        what="what a rinse leaves behind",
        reading="a clear tube before and after a rinse",
        keys=("service.pleated_rinse",),
    ),
    Alone(
        what="haze, and how much dirt clouds the water",
        reading="a black disc before and after a water change",
        keys=("optics.haze", "optics.haze_per_dip", "optics.organic_index", "soil.organic_density"),
    ),
    Alone(
        what="what foam and a nominal rating promise",
        reading="a maker's measured beta ratio",
        keys=("capture.nominal_at_rating", "capture.foam_at_rating"),
    ),
    Alone(
        what="fibre, packing and core one by one",
        reading="a maker's clean loss, or a clear tube on a new cartridge",
        keys=("media.spun_solid_fraction", "media.wound_fibre", "media.core_k"),
    ),
    Alone(
        what="hoses, bends and the limits of a pump's curve",
        reading="buckets at two lifts with no cartridge fitted",
        keys=(
            "plumbing.other_k", "plumbing.elbow_k", "plumbing.barb_k", "plumbing.roughness", "pump.exponent_least",
            "pump.exponent_most", "pump.box_flow_most",
        ),
    ),
    Alone(
        what="hours, sessions, limits and prices",
        reading="your study states them",
        keys=(
            "pump.hours_per_day", "tub.sessions_per_day", "options.housings_in_parallel", "needs.depths_seen",
            "needs.rinse_at_least_every", "service.shortest_share", "cooling.cop", "prices.water_per_m3",
        ),
    ),
)  # fmt: skip
