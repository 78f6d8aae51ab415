"""Slow, accurate reference solution of the filter model, sections 1 to 9, for any case of what is not known exactly.

The fast program is checked against this file, which therefore shares nothing with it. Every equation is
written as the model states it, and the whole state (the mass in every layer and the cake of every stage) is
integrated with the flow found anew at every step. A case may state ``factors`` (section 12); all else is as assumed.
Run as a script it prints its own error on a few cases.

Inside, everything is SI except time in the loading law, which is in days, and the rates that go with it.

Readings chosen where the model leaves room:

- `other_k` holds entry, exit and one housing (0.5 + 1.0 + 2.5 = 4.0); nothing is added for them here. A lift
  test holds all of the plumbing, also the K of further housings. Parallel housings leave the K as for one.
- A curve through points goes on beyond them as a straight line with the slope it has at its end.
- The pump's exponent and its share of the box flow are used as stated, also outside the bounds of their draws.
- A depth element must say its `make`, spun or wound. The core's loss is the same for a wide body as for a slim one.
- The flat pad has 24 layers like a wound element, and no core; wound, spun and pleated elements have one. It has no
  wall, so it is not graded, however thick.
- Below 1 um a sheet keeps the fibre it has there. `capture_size` moves the capture alone, not fibre and packing.
- `wound_permeability` stands in place of `permeability`, for wound elements without a maker's clean loss (`k_factor`).
- What a measured beta says is not read: every element is nominal.
- All dirt, dust too, comes in the sessions. Bathers a day are the uses a day.
- Clearing time is that of the water at the end of its life; in dead water the lagging water's.
- The loss that sets the cake's resistance is the stage's whole loss: layers, cake, and core.
- Foam's inertial loss follows the present permeability, layer by layer. A factor on the permeability leaves the cake
  alone.
- Foam never lets the share `top` stay on its face, nor of what grows; only what full layers refuse goes there.
- An onset that a factor brings down to the clean packing or below lets all the catch stay on the face.
- What a pleated sheet's cake strains is part of E': it is shared between face and layers like all the rest.
- A full layer's growth goes on the face too: the deposit as a whole always grows by caught + growth.
- A maker's dirt capacity is what one element holds. Its terminal loss is the whole element's, core included. Where none
  is stated the density is the default, and the capacity is a ceiling only. The density is fitted with all as assumed;
  a factor then multiplies it.
- The pressure rise is the filter's loss now, at the present flow, less the clean one at the clean flow.
- The time limit is the shortest of the limits that apply and the discard age.
- The clean filter is judged by flow first, then by clarity just after a session at the end of the water's
  life. A full element of any stage ends the run.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from chemicals.iapws import iapws95_rho
from chemicals.viscosity import mu_IAPWS
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import ndtr

# Fixed numbers of nature and of units.
GRAVITY_M_S2 = 9.80665
ATMOSPHERE_PA = 101325.0
SECONDS_A_DAY = 86400.0
US_GALLON_M3 = 3.785411784e-3

# Section 2: plumbing.
ELBOW_K, BARB_K, HOUSING_K = 0.75, 1.5, 2.5
CORE_K, CORE_BORE_M = 2.0, 0.025
BOX_NUMBER_EXPONENT, BOX_FLOW_SHARE = 1.6, 0.9

# Section 3: media.
HELD_ABOVE_SOLID_SHARE = 0.30
SOLID_SHARE = {"spun": 0.20, "pad": 0.20, "pleated": 0.18, "foam": 0.045}
SPUN_FIBRE_M = 6.5e-6  # at 1 um, rising as the root of the rating
YARN_M, WOUND_SOLID_SHARE, WOUND_POWER = 21.5e-6, 0.494, -0.183
RATED_WALL_M = 18e-3
SHEET_THICKNESS_M = 0.5e-3
FINE_PLEATS_M, FINE_PLEATS_POWER, FINEST_SHEET_M = 5e-6, 0.65, 1e-6
FOAM_STRUT_M, FOAM_STRUT_PER_INCH = 280e-6, 20.0
FOAM_INERTIA = 0.09

# Section 4: capture.
BYPASS_SHARE = 0.11
EFFICIENCY_AT_RATING = {"depth": 0.85, "pad": 0.85, "pleated": 0.85, "foam": 0.60}
CAPTURE_SLOPE = {"depth": 3.0, "pad": 3.0, "pleated": 3.0, "foam": 2.0}
FOAM_REFERENCE_M = 0.050
STRAINING_CAKE_KG_M2 = 0.200
STRAINED_IN_FULL_M = 5e-6

# Section 5: what gets into the water.
CLASS_EDGES_M = np.geomspace(0.5e-6, 2000e-6, 25)
CLASS_M = np.sqrt(CLASS_EDGES_M[:-1] * CLASS_EDGES_M[1:])
MINERAL_AS_ORGANIC = 0.1
SHOWER_TAKES_OFF = 0.40
BATHER_SOURCES = ((60e-6, 30e-6, 2.2), (20e-6, 500e-6, 1.6), (20e-6, 3e-6, 2.0))  # kg a dip, median m, g.s.d.
FEET_KG_A_DIP = {"rinsed": 5e-6, "indoors": 50e-6, "from the garden": 500e-6}
FEET_SIZE = (80e-6, 2.5)
DUST_KG_M2_DAY = {"outdoors": 0.15e-3, "indoors": 0.005e-3}
DUST_SIZE = (20e-6, 3.0)

# Section 6: the tub.
LONGEST_WATER_LIFE_DAYS = 60.0
STILL_SHARE = 0.3
EVEN_WITHIN = 3.0  # time constants until two waters are even within 5 %
CLEARED_SHARE = 0.9

# Section 7: see-through distance.
CLEAR_WATER_1_M, HAZE_1_M, HAZE_A_DIP_PER_100_L = 0.06, 0.3, 0.01
LIGHT_M, WATER_INDEX = 550e-9, 1.333
RELATIVE_INDEX = {"organic": 1.05, "mineral": 1.16}
DRY_DENSITY_KG_M3 = {"organic": 1200.0, "mineral": 2650.0}
BLACK_DISC = 4.8

# Section 8: deposit.
LAYERS = {"depth": 24, "pad": 24, "foam": 24, "pleated": 8}
DEPOSIT_DENSITY_KG_M3 = 100.0
FULL_SOLID_SHARE = 0.97
CAKE_FORMS_AT_FILLED = 0.375  # of the void; foam never lets it form by itself
TOP_POWER = 6
CAKE_AT_10_KPA_M_KG, CAKE_POWER, CAKE_FLOOR_PA = 5e11, 0.6, 500.0
FULL_GAP_SHARE = 0.95
GROWTH_1_DAY, GROWTH_AT_C, GROWTH_DOUBLES_C = 0.02, 4.0, 10.0
RINSEABLE = {"foam", "pleated"}

# Section 8: a maker's dirt capacity.
TEST_DUST = (10e-6, 3.0)
BENCH_C = 20.0
BENCH_GALLONS_A_MINUTE = {(0.250, 0.0318): 3.0, (0.250, 0.057): 7.5, (0.508, 0.0318): 6.5, (0.508, 0.057): 12.5}
LEAST_DENSITY_KG_M3 = 10.0
MOST_DENSITY_KG_M3 = {"test dust": 265.0, "like the tub's": 1200.0}
BENCH_STEPS = 1000

# Section 9: what a rinse and a soak leave.
RINSE_LEAVES = {"pleated": 0.10, "foam": 0.05}
SOAK_LEAVES = 0.30
MOST_LEFT = 0.90

# Section 12: what is not known exactly, as assumed: factors, what is added to the onset, the pump's exponent
# and its share of the flow on the box. Those two stand as they are; the rest are factors of what is assumed.
AS_ASSUMED = {
    "load_per_dip": 1.0,
    "uses": 1.0,
    "dust": 1.0,
    "deposit_density": 1.0,
    "cake_resistance": 1.0,
    "permeability": 1.0,
    "wound_permeability": 1.0,
    "capture_size": 1.0,
    "haze": 1.0,
    "growth": 1.0,
    "rinse_loss": 1.0,
    "sum_k": 1.0,
    "prices": 1.0,
    "slope": 1.0,
    "straining_cake": 1.0,
    "onset": 0.0,
    "pump_exponent": BOX_NUMBER_EXPONENT,
    "box_flow": BOX_FLOW_SHARE,
}

# The solution.
METHOD: Final = "LSODA"
ATOL_PER_RTOL_KG = 1e-7
LONGEST_STEP_DAYS = 0.25
FINEST_GAP_SHARE = 0.01  # keeps steps past the full gap finite; never met by one that a full element ends


def factors_of(case: dict) -> dict[str, float]:
    """Give what is not known exactly of a case, or of its tub (section 12)."""
    stated = case.get("factors", {})
    if stated.keys() - AS_ASSUMED.keys():
        raise ValueError(f"factors of what is not modelled: {', '.join(sorted(stated.keys() - AS_ASSUMED.keys()))}")
    return AS_ASSUMED | stated


# ------------------------------------------------------------------------------------------------------------
# Section 1: water


def water(temperature_c: float) -> tuple[float, float]:
    """Give density [kg/m3] and viscosity [Pa s] of water (section 1)."""
    kelvin = temperature_c + 273.15
    density = iapws95_rho(kelvin, ATMOSPHERE_PA)
    return density, mu_IAPWS(kelvin, density)


# ------------------------------------------------------------------------------------------------------------
# Section 2: pump and plumbing


def curve_through(points: list[tuple[float, float]]) -> Callable[[float], float]:
    """Draw a monotone curve through points (flow, head), straight beyond its ends (section 2)."""
    flow, head = np.array(sorted(map(tuple, points)), dtype=float).T
    if len(flow) < 2 or np.any(np.diff(flow) <= 0.0) or np.any(np.diff(head) > 0.0):
        raise ValueError("a curve needs at least two points, and its head must fall as the flow rises")
    inner = PchipInterpolator(flow, head)
    slope = inner.derivative()

    def at(q: float) -> float:
        nearest = min(max(q, flow[0]), flow[-1])
        if nearest == q:
            return float(inner(q))
        return float(inner(nearest) + slope(nearest) * (q - nearest))

    return at


def pump_head(
    pump: dict, exponent: float = BOX_NUMBER_EXPONENT, box_flow: float = BOX_FLOW_SHARE
) -> Callable[[float], float]:
    """Give the pump's head [m] as a function of flow [m3/s] (section 2)."""
    if pump.get("curve") is not None:
        return curve_through(pump["curve"])
    shutoff, most = pump["shutoff_head_m"], box_flow * pump["max_flow_m3_s"]
    return lambda q: shutoff * (1.0 - (q / most) ** exponent)


def churchill(reynolds: float, relative_roughness: float) -> float:
    """Give the Darcy friction factor, continuous through transition (section 2, Churchill 1977)."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * relative_roughness))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


def plumbing_head(q: float, bore: float, length: float, roughness: float, sum_k: float, rho: float, mu: float) -> float:
    """Give the head [m] lost in pipes and fittings (section 2)."""
    if q <= 0.0:
        return 0.0
    velocity = q / (math.pi * bore**2 / 4.0)
    reynolds = rho * velocity * bore / mu
    friction = 64.0 / reynolds if reynolds < 1.0 else churchill(reynolds, roughness / bore)
    return (friction * length / bore + sum_k) * velocity**2 / (2.0 * GRAVITY_M_S2)


def sum_of_k(plumbing: dict, kinds: list[str]) -> float:
    """Sum the loss coefficients of the loop on the bore's velocity (section 2)."""
    housings = sum(kind != "foam" for kind in kinds)
    return (
        ELBOW_K * plumbing["elbows_90"]
        + BARB_K * plumbing["hose_barbs"]
        + plumbing["other_k"]
        + HOUSING_K * max(housings - 1, 0)
    )


def head_left(case: dict, rho: float, mu: float) -> Callable[[float], float]:
    """Give the head [m] that pump and plumbing leave for the filter at a flow [m3/s] (section 2)."""
    if case.get("lift_test") is not None:
        return curve_through([(q, lift) for lift, q in case["lift_test"]])
    factors, plumbing = factors_of(case), case["plumbing"]
    pump = pump_head(case["pump"], factors["pump_exponent"], factors["box_flow"])
    sum_k = factors["sum_k"] * sum_of_k(plumbing, [stage["kind"] for stage in case["stages"]])
    bore, length, roughness = plumbing["bore_m"], plumbing["length_m"], plumbing["roughness_m"]
    lift = plumbing["static_lift_m"]
    return lambda q: pump(q) - lift - plumbing_head(q, bore, length, roughness, sum_k, rho, mu)


# ------------------------------------------------------------------------------------------------------------
# Section 3: clean media


def kozeny_constant(solid_share: np.ndarray) -> np.ndarray:
    """Give the Kozeny constant, held above a solid share of 0.3 (section 3)."""
    a = np.minimum(solid_share, HELD_ABOVE_SOLID_SHARE)
    return 4.0 * (1.0 - a) ** 3 * (1.0 + 56.0 * a**3) / np.sqrt(a)


def permeability_m2(solid_share: np.ndarray, fibre_m: np.ndarray) -> np.ndarray:
    """Give the permeability of a bed of fibres (section 3)."""
    return (1.0 - solid_share) ** 3 * fibre_m**2 / (16.0 * kozeny_constant(solid_share) * solid_share**2)


def medium_of(stage: dict) -> str:
    """Name the medium of a stage: spun, wound, pad, pleated or foam (section 3)."""
    if stage["kind"] != "depth":
        return stage["kind"]
    if stage.get("make") not in {"spun", "wound"}:
        raise ValueError("a depth element must say its make: spun or wound")
    return stage["make"]


def solid_share(stage: dict) -> float:
    """Give the solid share of a clean medium (section 3)."""
    medium = medium_of(stage)
    if medium == "wound":
        return WOUND_SOLID_SHARE * (stage["rating_m"] * 1e6) ** WOUND_POWER
    return SOLID_SHARE[medium]


def fibre_diameter_m(stage: dict) -> float:
    """Give the fibre or strut diameter that goes with a rating (section 3)."""
    medium = medium_of(stage)
    if medium == "foam":
        return FOAM_STRUT_M * FOAM_STRUT_PER_INCH / stage["pores_per_inch"]
    if medium == "wound":
        return YARN_M
    if medium == "pleated":
        fine = max(stage["rating_m"], FINEST_SHEET_M) / FINE_PLEATS_M
        return FINE_PLEATS_M * (fine**FINE_PLEATS_POWER if fine < 1.0 else fine)
    return SPUN_FIBRE_M * math.sqrt(stage["rating_m"] * 1e6)


def rated_inner_radius_m(stage: dict) -> float:
    """Give the radius down to which a depth body's wall is of the rated medium; inside is only support (section 3)."""
    return max(stage["inner_radius_m"], stage["outer_radius_m"] - RATED_WALL_M)


@dataclass(frozen=True, eq=False)
class Element:
    """One element of a stage: its clean geometry and its laws' constants (sections 3, 4 and 8).

    `layer_shape_1_m` is what a layer's resistance [1/m3] is when divided by its permeability;
    `layer_inertia_1_m3` is what its inertial factor is, per density, when divided by the root of it.
    """

    kind: str
    rating_m: float
    fibre_m: float
    solid_share: float
    k_factor: float
    layer_volume_m3: np.ndarray
    layer_shape_1_m: np.ndarray
    layer_inertia_1_m3: np.ndarray
    core_inertia_1_m4: float
    face_m2: float
    half_gap_m: float
    passes_of_reference: float
    dirt_capacity_kg: float
    capture_slope: float
    straining_kg_m2: float
    deposit_density_kg_m3: float
    cake_forms_at: float
    cake_at_10_kpa_m_kg: float

    @property
    def layers(self) -> int:
        """Give the number of layers."""
        return len(self.layer_volume_m3)

    @property
    def layer_capacity_kg(self) -> np.ndarray:
        """Give the mass at which a layer takes no more (section 8)."""
        return (FULL_SOLID_SHARE - self.solid_share) * self.deposit_density_kg_m3 * self.layer_volume_m3


def core_inertia_1_m4() -> float:
    """Give the inertial factor of a cartridge's core, per density (section 2)."""
    return CORE_K / (2.0 * (math.pi * CORE_BORE_M**2 / 4.0) ** 2)


def half_gap_m(stage: dict) -> float:
    """Give the free half-gap between pleats (section 8)."""
    area = stage["area_m2"]
    room = math.pi * (stage["outer_radius_m"] ** 2 - stage["inner_radius_m"] ** 2) * stage["length_m"]
    gap = (room - area * SHEET_THICKNESS_M) / (2.0 * area)
    if gap <= 0.0:
        raise ValueError("the pleated area does not fit into the element")
    return gap


def permeability_factor(stage: dict, factors: dict[str, float]) -> float:
    """Give the factor on the permeability: a maker's clean loss, and what is not known (sections 3 and 12)."""
    if medium_of(stage) == "wound" and "k_factor" not in stage:
        return factors["wound_permeability"]
    return factors["permeability"] * stage.get("k_factor", 1.0)


def element_of(stage: dict, factors: dict[str, float] = AS_ASSUMED) -> Element:
    """Lay out a clean element (sections 3, 8 and 12).

    Parameters
    ----------
    stage
        All of them: `kind` (depth, pad, pleated, foam) and `rating_m`; depth also `make` (spun, wound). Depth and
        pleated: `length_m`, `outer_radius_m`, `inner_radius_m`; all but depth: `area_m2`; pad and foam: `thickness_m`;
        foam: `pores_per_inch`. If a maker states them: `k_factor` on the permeability, `dirt_capacity_kg` as stated,
        its `capacity_dirt` ("test dust", as assumed, or "like the tub's"), `terminal_loss_pa` and
        `capacity_flow_m3_s`.
    factors
        What is not known exactly.

    Returns
    -------
    Element
        The element as it is when new.
    """
    kind = stage["kind"]
    count = LAYERS[kind]
    share = solid_share(stage)
    inertia = np.zeros(count)
    gap, passes = math.inf, 1.0
    if kind == "depth":
        radius = np.linspace(stage["outer_radius_m"], rated_inner_radius_m(stage), count + 1)
        length = stage["length_m"]
        volume = math.pi * (radius[:-1] ** 2 - radius[1:] ** 2) * length
        shape = np.log(radius[:-1] / radius[1:]) / (2.0 * math.pi * length)
        face = 2.0 * math.pi * stage["outer_radius_m"] * length
    else:
        face = stage["area_m2"]
        thickness = SHEET_THICKNESS_M if kind == "pleated" else stage["thickness_m"]
        volume = np.full(count, face * thickness / count)
        shape = np.full(count, thickness / count / face)
        if kind == "pleated":
            gap = half_gap_m(stage)
        if kind == "foam":
            inertia = np.full(count, thickness / count * FOAM_INERTIA / face**2)
            passes = thickness / FOAM_REFERENCE_M
    onset = math.inf if kind == "foam" else factors["onset"] + share + CAKE_FORMS_AT_FILLED * (1.0 - share)
    new = Element(
        kind=kind,
        rating_m=factors["capture_size"] * stage["rating_m"],
        fibre_m=fibre_diameter_m(stage),
        solid_share=share,
        k_factor=permeability_factor(stage, factors),
        layer_volume_m3=volume,
        layer_shape_1_m=shape,
        layer_inertia_1_m3=inertia,
        core_inertia_1_m4=core_inertia_1_m4() if kind in ("depth", "pleated") else 0.0,
        face_m2=face,
        half_gap_m=gap,
        passes_of_reference=passes,
        dirt_capacity_kg=dirt_capacity_kg(stage),
        capture_slope=factors["slope"] * CAPTURE_SLOPE[kind],
        straining_kg_m2=factors["straining_cake"] * STRAINING_CAKE_KG_M2,
        deposit_density_kg_m3=factors["deposit_density"] * DEPOSIT_DENSITY_KG_M3,
        cake_forms_at=onset,
        cake_at_10_kpa_m_kg=factors["cake_resistance"] * CAKE_AT_10_KPA_M_KG,
    )
    if stage.get("terminal_loss_pa") is None or math.isinf(new.dirt_capacity_kg):
        return new
    return replace(new, deposit_density_kg_m3=factors["deposit_density"] * fitted_density_kg_m3(stage))


# ------------------------------------------------------------------------------------------------------------
# Section 4: capture


def clean_capture(element: Element) -> np.ndarray:
    """Give E' of each class for the clean element (section 4)."""
    promised = EFFICIENCY_AT_RATING[element.kind] / (1.0 - BYPASS_SHARE)
    x = promised / (1.0 - promised) * (CLASS_M / element.rating_m) ** element.capture_slope
    return 1.0 - (1.0 / (1.0 + x)) ** element.passes_of_reference


def capture(element: Element, cake_kg: float) -> np.ndarray:
    """Give E' of each class with the straining of a pleated sheet's cake (section 4)."""
    clean = clean_capture(element)
    if element.kind != "pleated":
        return clean
    loading = max(cake_kg, 0.0) / element.face_m2 / element.straining_kg_m2
    return 1.0 - (1.0 - clean) * np.exp(-loading * np.minimum(1.0, CLASS_M / STRAINED_IN_FULL_M) ** 2)


# ------------------------------------------------------------------------------------------------------------
# Section 5: what gets into the water


def class_masses(total: float, median_m: float, geometric_sd: float) -> np.ndarray:
    """Share a lognormal source's mass out to the classes (section 5)."""
    below = ndtr(np.log(CLASS_EDGES_M / median_m) / math.log(geometric_sd))
    return total * np.diff(below)


def load_kg_day(tub: dict) -> dict[str, np.ndarray]:
    """Give the dirt a day in each class, organic and mineral apart (section 5)."""
    factors = factors_of(tub)
    uses = factors["load_per_dip"] * factors["uses"] * tub["uses_per_day"]
    kept = 1.0 - SHOWER_TAKES_OFF * tub["showered_share"]
    organic = sum(class_masses(uses * kept * dip, median, gsd) for dip, median, gsd in BATHER_SOURCES)
    feet = class_masses(uses * FEET_KG_A_DIP[tub["feet"]], *FEET_SIZE)
    open_m2 = tub["open_surface_m2"] * tub["uncovered_hours_per_day"] / 24.0
    dust = factors["dust"] * DUST_KG_M2_DAY[tub["surroundings"]] * open_m2
    return {"organic": organic, "mineral": feet + class_masses(dust, *DUST_SIZE)}


def as_organic(load: dict[str, np.ndarray]) -> np.ndarray:
    """Give what each class counts for in a deposit (section 5)."""
    return load["organic"] + MINERAL_AS_ORGANIC * load["mineral"]


# ------------------------------------------------------------------------------------------------------------
# Section 6: the tub


def water_life_days(tub: dict) -> float:
    """Give the water's life: the owner's, or the public-spa rule (section 6)."""
    if tub["water_life_days"] is not None:
        return tub["water_life_days"]
    if tub["uses_per_day"] <= 0.0:
        return LONGEST_WATER_LIFE_DAYS
    return min(LONGEST_WATER_LIFE_DAYS, tub["volume_m3"] / US_GALLON_M3 / 3.0 / tub["uses_per_day"])


def rise(x: np.ndarray) -> np.ndarray:
    """Give (1 - exp(-x))/x, which tends to 1 for x to 0."""
    x = np.asarray(x, dtype=float)
    safe = np.where(x > 0.0, x, 1.0)
    return np.where(x > 0.0, -np.expm1(-safe) / safe, 1.0)


def mean_rise(x: np.ndarray) -> np.ndarray:
    """Give (1 - rise(x))/x, which tends to 1/2 for x to 0."""
    x = np.asarray(x, dtype=float)
    safe = np.where(x > 1e-2, x, 1.0)
    series = 1 / 2 - x / 6 * (1 - x / 4 * (1 - x / 5 * (1 - x / 6 * (1 - x / 7 * (1 - x / 8)))))
    return np.where(x > 1e-2, (1.0 - rise(safe)) / safe, series)


@dataclass(frozen=True)
class DeadWater:
    """A part of the tub that lags behind the water on the filter's loop (section 6).

    `share` is its part of the volume, `evens_1_day` the rate at which a difference between the two waters decays over
    the whole day, the pump's rest included.
    """

    share: float
    evens_1_day: float


def dead_water_of(tub: dict, run_share: float) -> DeadWater | None:
    """Give the dead water of a tub whose owner timed a drop of dye, else None (section 6).

    Parameters
    ----------
    tub
        `dye_even_after_s`, the time until the dye is even with the pump on, and `still_share`, the part that lags.
    run_share
        Share of the day that the pump runs.

    Returns
    -------
    DeadWater or None
        None if no time is stated, or if it is 0.
    """
    seconds = tub.get("dye_even_after_s")
    if not seconds:
        return None
    share = tub.get("still_share")
    share = STILL_SHARE if share is None else share
    if not 0.02 <= share <= 0.9:
        raise ValueError("the share that lags lies between 0.02 and 0.9")
    return DeadWater(share, run_share * EVEN_WITHIN * SECONDS_A_DAY / seconds)


def in_both_waters(
    removal_1_day: np.ndarray, dead: DeadWater | None, answer: Callable[[np.ndarray], np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Carry an answer that one well mixed volume gives to the filtered and to the lagging water (section 6).

    The two waters exchange as much one way as the other, so that the system is symmetric in concentrations times the
    roots of the volumes. It falls apart into two that do not know of each other, each of which answers as one volume
    of its own rate does.

    Parameters
    ----------
    removal_1_day
        Removal of each class over the whole volume, h Q E / V.
    dead
        The dead water, None for one volume.
    answer
        What one volume answers at a rate [1/day], for dirt that comes in evenly by volume.

    Returns
    -------
    tuple of arrays
        The answers of the filtered and of the lagging water.
    """
    removal_1_day = np.asarray(removal_1_day, dtype=float)
    if dead is None:
        return answer(removal_1_day), answer(removal_1_day)
    part = np.array([1.0 - dead.share, dead.share])
    to_filtered, to_lagging = dead.evens_1_day * part[::-1]  # kappa_1, kappa_2
    system = np.empty((*removal_1_day.shape, 2, 2))
    system[..., 0, 0] = removal_1_day / part[0] + to_filtered
    system[..., 1, 1] = to_lagging
    system[..., 0, 1] = system[..., 1, 0] = -math.sqrt(to_filtered * to_lagging)
    rates, modes = np.linalg.eigh(system)
    share_of_mode = np.einsum("...im,i->...m", modes, np.sqrt(part))
    answers = np.einsum("...im,...m->...i", modes, share_of_mode * answer(np.maximum(rates, 0.0))) / np.sqrt(part)
    return answers[..., 0], answers[..., 1]


def mean_content(
    load: np.ndarray, removal_1_day: np.ndarray, life_days: float, dead: DeadWater | None = None
) -> np.ndarray:
    """Give the mass on average over the water's life, V times the mean of the filtered water's C (section 6)."""
    filtered, _ = in_both_waters(removal_1_day, dead, lambda rate: life_days * mean_rise(rate * life_days))
    return load * filtered


def content_at(
    load: np.ndarray, removal_1_day: np.ndarray, age_days: float, dead: DeadWater | None = None
) -> np.ndarray:
    """Give the mass in all of the water at an age, sessions evened out (section 6)."""
    filtered, lagging = in_both_waters(removal_1_day, dead, lambda rate: age_days * rise(rate * age_days))
    share = 0.0 if dead is None else dead.share
    return load * ((1.0 - share) * filtered + share * lagging)


def content_after(
    load: np.ndarray,
    removal_1_day: np.ndarray,
    age_days: float,
    sessions: float,
    dead: DeadWater | None = None,
    later_days: float = 0.0,
) -> np.ndarray:
    """Give V times the lagging water's C just after a session, or a time later, before the next one (section 6)."""

    def after(rate: np.ndarray) -> np.ndarray:
        return age_days * rise(rate * age_days) / rise(rate / sessions) * np.exp(-rate * later_days)

    return load * in_both_waters(removal_1_day, dead, after)[1]


def content_before(
    load: np.ndarray, removal_1_day: np.ndarray, age_days: float, sessions: float, dead: DeadWater | None = None
) -> np.ndarray:
    """Give V times the lagging water's C just before a session (section 6)."""
    return content_after(load, removal_1_day, age_days, sessions, dead, 1.0 / sessions)


# ------------------------------------------------------------------------------------------------------------
# Section 7: see-through distance


def extinction(kind: str) -> np.ndarray:
    """Give the extinction efficiency of each class by anomalous diffraction (section 7)."""
    p = 2.0 * math.pi * CLASS_M * WATER_INDEX * (RELATIVE_INDEX[kind] - 1.0) / LIGHT_M
    return 2.0 - 4.0 / p * np.sin(p) + 4.0 / p**2 * (1.0 - np.cos(p))


def attenuation_1_m(tub: dict, content: dict[str, np.ndarray]) -> float:
    """Give the attenuation at the end of the water's life (section 7)."""
    volume, factors = tub["volume_m3"], factors_of(tub)
    dips_per_100_l = factors["uses"] * tub["uses_per_day"] * water_life_days(tub) / (volume / 0.1)
    attenuation = CLEAR_WATER_1_M + factors["haze"] * (HAZE_1_M + HAZE_A_DIP_PER_100_L * dips_per_100_l)
    for kind, mass in content.items():
        per_mass = 1.5 * extinction(kind) / (DRY_DENSITY_KG_M3[kind] * CLASS_M)
        attenuation += float(np.sum(per_mass * mass / volume))
    return attenuation


def see_through_m(tub: dict, content: dict[str, np.ndarray]) -> float:
    """Give the black-disc distance at the end of the water's life (section 7)."""
    return BLACK_DISC / attenuation_1_m(tub, content)


# ------------------------------------------------------------------------------------------------------------
# Section 8: deposit and resistance


def loaded_solid_share(element: Element, layer_kg: np.ndarray) -> np.ndarray:
    """Give each layer's solid share with its deposit (section 8)."""
    taken = np.maximum(layer_kg, 0.0) / element.layer_volume_m3 / element.deposit_density_kg_m3
    return np.minimum(element.solid_share + taken, FULL_SOLID_SHARE)


def layers_loss_factors(element: Element, layer_kg: np.ndarray, rho: float) -> tuple[float, float]:
    """Give R [1/m3] and F [Pa s2/m6] of the layers and the core, without cake (sections 2, 3 and 8)."""
    share = loaded_solid_share(element, layer_kg)
    fibre = element.fibre_m * np.sqrt(share / element.solid_share)
    k = element.k_factor * permeability_m2(share, fibre)
    resistance = float(np.sum(element.layer_shape_1_m / k))
    inertia = rho * (float(np.sum(element.layer_inertia_1_m3 / np.sqrt(k))) + element.core_inertia_1_m4)
    return resistance, inertia


def cake_at_10_kpa_1_m3(element: Element, cake_kg: float) -> float:
    """Give the cake's resistance at a loss of 10 kPa (section 8)."""
    w = max(cake_kg, 0.0) / element.face_m2
    open_share = max(1.0 - w / element.deposit_density_kg_m3 / element.half_gap_m, FINEST_GAP_SHARE)
    return element.cake_at_10_kpa_m_kg * w / (element.face_m2 * open_share)


def stage_loss_pa(q: float, resistance: float, inertia: float, cake_at_10_kpa: float, mu: float) -> float:
    """Solve for a stage's loss at the flow through one element, the cake stiffening under it (section 8).

    The cake's law is a power below one, so there is exactly one root above the loss without cake. What is missing there
    is convex in the loss, so Newton's steps from above come down to it without passing it.
    """
    bare = mu * resistance * q + inertia * q**2
    if q <= 0.0 or cake_at_10_kpa <= 0.0:
        return bare
    pressed = mu * cake_at_10_kpa * q / 10e3**CAKE_POWER
    at_floor = bare + pressed * CAKE_FLOOR_PA**CAKE_POWER
    if at_floor <= CAKE_FLOOR_PA:
        return at_floor
    loss = 2.0 * bare + (2.0 * pressed) ** (1.0 / (1.0 - CAKE_POWER))
    step = loss
    while step > 1e-12 * loss:
        by_cake = pressed * loss**CAKE_POWER
        step = (loss - bare - by_cake) / (1.0 - CAKE_POWER * by_cake / loss)
        loss -= step
    return loss


@dataclass(frozen=True, eq=False)
class Plant:
    """All that stays the same through a run."""

    tub: dict
    head_left: Callable[[float], float]
    rho: float
    mu: float
    elements: list[Element]
    in_parallel: int
    run_share: float
    load: dict[str, np.ndarray]
    life_days: float
    growth_1_day: float
    dead_water: DeadWater | None


def growth_1_day(tub: dict) -> float:
    """Give the growth of the deposit (section 8)."""
    if tub["disinfectant_kept"]:
        return 0.0
    warmer_c = tub["water_temperature_c"] - GROWTH_AT_C
    return factors_of(tub)["growth"] * GROWTH_1_DAY * 2.0 ** (warmer_c / GROWTH_DOUBLES_C)


def plant_of(case: dict) -> Plant:
    """Gather what stays the same through a run."""
    factors = factors_of(case)
    tub = case["tub"] | {"factors": factors}
    rho, mu = water(tub["water_temperature_c"])
    run_share = case["pump"]["hours_per_day"] / 24.0
    return Plant(
        tub=tub,
        head_left=head_left(case, rho, mu),
        rho=rho,
        mu=mu,
        elements=[element_of(stage, factors) for stage in case["stages"]],
        in_parallel=case["housings_in_parallel"],
        run_share=run_share,
        load=load_kg_day(tub),
        life_days=water_life_days(tub),
        growth_1_day=growth_1_day(tub),
        dead_water=dead_water_of(tub, run_share),
    )


def new_filter(plant: Plant) -> np.ndarray:
    """Give the state of a new filter: nothing in any layer, no cake."""
    return np.zeros(sum(element.layers + 1 for element in plant.elements))


def split(plant: Plant, state: np.ndarray) -> list[tuple[np.ndarray, float]]:
    """Cut the state into (mass in each layer, cake) of each stage, one element [kg]."""
    parts, start = [], 0
    for element in plant.elements:
        end = start + element.layers
        parts.append((state[start:end], float(state[end])))
        start = end + 1
    return parts


def flow_and_losses(plant: Plant, state: np.ndarray) -> tuple[float, list[float]]:
    """Find the quasi-steady flow [m3/s] of all housings and each stage's loss [Pa] (section 2)."""
    factors = [
        (*layers_loss_factors(element, layer_kg, plant.rho), cake_at_10_kpa_1_m3(element, cake_kg))
        for element, (layer_kg, cake_kg) in zip(plant.elements, split(plant, state), strict=True)
    ]

    def losses(q: float) -> list[float]:
        return [stage_loss_pa(q / plant.in_parallel, *factor, plant.mu) for factor in factors]

    def spare_head(q: float) -> float:
        return plant.head_left(q) - sum(losses(q)) / (plant.rho * GRAVITY_M_S2)

    if spare_head(0.0) <= 0.0:
        return 0.0, [0.0] * len(factors)
    high = 1e-4
    while spare_head(high) > 0.0:
        high *= 2.0
    q = brentq(spare_head, 0.0, high, xtol=1e-18, rtol=1e-14)
    return q, losses(q)


@dataclass(frozen=True, eq=False)
class Moment:
    """What the filter does at one state."""

    flow_m3_s: float
    losses_pa: list[float]
    captures: list[np.ndarray]
    removal_1_day: np.ndarray

    @property
    def loss_pa(self) -> float:
        """Give the filter's loss, all stages."""
        return sum(self.losses_pa)


def moment(plant: Plant, state: np.ndarray) -> Moment:
    """Work out flow, losses, capture and removal rate at one state (sections 2, 4 and 6)."""
    flow, losses = flow_and_losses(plant, state)
    parts = split(plant, state)
    captures = [capture(element, cake) for element, (_, cake) in zip(plant.elements, parts, strict=True)]
    through = np.ones_like(CLASS_M)
    for e in captures:
        through = through * (1.0 - (1.0 - BYPASS_SHARE) * e)
    turnovers_a_day = plant.run_share * flow * SECONDS_A_DAY / plant.tub["volume_m3"]
    return Moment(flow, losses, captures, turnovers_a_day * (1.0 - through))


def attenuation_after_1_m(plant: Plant, removal_1_day: np.ndarray, later_days: float) -> float:
    """Give the attenuation a time after a session at the end of the water's life (sections 6 and 7)."""
    sessions = plant.tub["sessions_per_day"]
    content = {
        kind: content_after(s, removal_1_day, plant.life_days, sessions, plant.dead_water, later_days)
        for kind, s in plant.load.items()
    }
    return attenuation_1_m(plant.tub, content)


def worst_see_through_m(plant: Plant, removal_1_day: np.ndarray) -> float:
    """Give the see-through distance just after a session (sections 6 and 7)."""
    return BLACK_DISC / attenuation_after_1_m(plant, removal_1_day, 0.0)


def best_see_through_m(plant: Plant, removal_1_day: np.ndarray) -> float:
    """Give the see-through distance just before a session (sections 6 and 7)."""
    return BLACK_DISC / attenuation_after_1_m(plant, removal_1_day, 1.0 / plant.tub["sessions_per_day"])


def clearing_hours(plant: Plant, removal_1_day: np.ndarray) -> float:
    """Give the hours after a session until the water has cleared, infinite if it never does (section 6)."""
    between = 1.0 / plant.tub["sessions_per_day"]
    after = attenuation_after_1_m(plant, removal_1_day, 0.0)
    before = attenuation_after_1_m(plant, removal_1_day, between)
    if not after > before:
        return math.inf

    def still_to_fall(days: float) -> float:
        there = attenuation_after_1_m(plant, removal_1_day, days)
        return (there - before) / (after - before) - (1.0 - CLEARED_SHARE)

    return 24.0 * brentq(still_to_fall, 0.0, between, xtol=1e-14, rtol=1e-13)


def layer_shares(e: np.ndarray, layers: int) -> np.ndarray:
    """Give the part of a class's catch that each layer makes, layers by classes (section 8).

    Equal lambda in every layer means that each lets the same part of what reaches it through.
    """
    step = np.log1p(-np.minimum(e, 1.0 - 1e-16)) / layers
    caught = -np.expm1(step) * np.exp(np.arange(layers)[:, None] * step)
    return caught / np.sum(caught, axis=0)


def share_on_top(element: Element, layer_kg: np.ndarray) -> float:
    """Give the share of the catch that stays on the face (section 8)."""
    bridge = element.cake_forms_at
    if math.isinf(bridge):
        return 0.0
    if bridge <= element.solid_share:
        return 1.0
    outermost = float(loaded_solid_share(element, layer_kg)[0])
    return min(1.0, (outermost - element.solid_share) / (bridge - element.solid_share)) ** TOP_POWER


def caught_by_element_kg_day(plant: Plant, now: Moment) -> list[np.ndarray]:
    """Give what one element of each stage catches of each class a day, as organic (sections 4 to 6)."""
    content = mean_content(as_organic(plant.load), now.removal_1_day, plant.life_days, plant.dead_water)
    turnovers_a_day = plant.run_share * now.flow_m3_s * SECONDS_A_DAY / plant.tub["volume_m3"]
    arriving = turnovers_a_day * content / plant.in_parallel
    caught = []
    for e in now.captures:
        caught.append((1.0 - BYPASS_SHARE) * e * arriving)
        arriving = arriving - caught[-1]
    return caught


def where_it_goes(
    element: Element,
    layer_kg: np.ndarray,
    cake_kg: float,
    e: np.ndarray,
    catch: np.ndarray,
    full: np.ndarray,
    growth: float,
) -> np.ndarray:
    """Share out what one element catches and what grows in it: what each layer and the cake gain (section 8).

    Parameters
    ----------
    e, catch
        E' of each class, and what is caught of it.
    full
        Which layers take no more.
    growth
        Growth over what is there.
    """
    top = share_on_top(element, layer_kg)
    coming = layer_shares(e, element.layers) @ catch + growth * layer_kg
    refused = np.where(full, coming, top * coming)
    return np.append(coming - refused, np.sum(refused) + growth * cake_kg)


def deposit_rates(plant: Plant, state: np.ndarray, full: list[np.ndarray], now: Moment, growth: float) -> np.ndarray:
    """Give the rate of change of the state [kg/day] (section 8).

    Parameters
    ----------
    full
        For each stage, which of its layers take no more.
    growth
        Growth of the deposit [1/day].
    """
    caught = caught_by_element_kg_day(plant, now)
    parts = split(plant, state)
    return np.concatenate(
        [
            where_it_goes(element, layer_kg, cake_kg, e, catch, filled, growth)
            for element, (layer_kg, cake_kg), e, catch, filled in zip(
                plant.elements, parts, now.captures, caught, full, strict=True
            )
        ]
    )


# ------------------------------------------------------------------------------------------------------------
# Section 8: a maker's dirt capacity


def dirt_capacity_kg(stage: dict) -> float:
    """Give the stated dirt capacity as organic dirt, infinite if none is stated (section 8)."""
    if stage.get("dirt_capacity_kg") is None:
        return math.inf
    counts_as = {"test dust": MINERAL_AS_ORGANIC, "like the tub's": 1.0}
    return counts_as[stage.get("capacity_dirt", "test dust")] * stage["dirt_capacity_kg"]


def bench_flow_m3_s(stage: dict) -> float:
    """Give the flow at which a maker measures a capacity: as stated, or by the size of the element (section 8)."""
    if stage.get("capacity_flow_m3_s") is not None:
        return stage["capacity_flow_m3_s"]
    gallons = BENCH_GALLONS_A_MINUTE.get((stage.get("length_m"), stage.get("outer_radius_m")))
    if gallons is None:
        raise ValueError("no flow is known at which this element's dirt capacity was measured")
    return gallons * US_GALLON_M3 / 60.0


def loss_at_capacity_pa(element: Element, flow_m3_s: float) -> float:
    """Load an element with test dust up to its capacity and give its loss then, infinite if it is full before.

    Nothing grows, and every step is a midpoint step in the mass caught. What a layer would take beyond what it holds
    goes on the face.
    """
    rho, mu = water(BENCH_C)
    dust = class_masses(1.0, *TEST_DUST)
    layer_kg, cake_kg = np.zeros(element.layers), 0.0
    step = element.dirt_capacity_kg / BENCH_STEPS

    def gain(layer_kg: np.ndarray, cake_kg: float) -> np.ndarray:
        e = capture(element, cake_kg)
        catch = e * dust / np.sum(e * dust)
        return where_it_goes(element, layer_kg, cake_kg, e, catch, layer_kg >= element.layer_capacity_kg, 0.0)

    for _ in range(BENCH_STEPS):
        half = 0.5 * step * gain(layer_kg, cake_kg)
        whole = step * gain(layer_kg + half[:-1], cake_kg + half[-1])
        wanted = layer_kg + whole[:-1]
        layer_kg = np.minimum(wanted, element.layer_capacity_kg)
        cake_kg += whole[-1] + float(np.sum(wanted - layer_kg))
    thickness = cake_kg / element.face_m2 / element.deposit_density_kg_m3
    if thickness >= FULL_GAP_SHARE * element.half_gap_m or np.all(layer_kg >= element.layer_capacity_kg):
        return math.inf
    resistance, inertia = layers_loss_factors(element, layer_kg, rho)
    return stage_loss_pa(flow_m3_s, resistance, inertia, cake_at_10_kpa_1_m3(element, cake_kg), mu)


def fitted_density_kg_m3(stage: dict) -> float:
    """Find the density of the deposit at which the stated capacity is met at the stated terminal loss (section 8).

    The denser the deposit, the less an element loses with it. At a bound that is not enough the density stays there.
    """
    new = element_of({**stage, "terminal_loss_pa": None})
    flow = bench_flow_m3_s(stage)

    def loss_pa(log_density: float) -> float:
        return loss_at_capacity_pa(replace(new, deposit_density_kg_m3=math.exp(log_density)), flow)

    low = math.log(LEAST_DENSITY_KG_M3)
    high = math.log(MOST_DENSITY_KG_M3[stage.get("capacity_dirt", "test dust")])
    if loss_pa(low) <= stage["terminal_loss_pa"]:
        return math.exp(low)
    if loss_pa(high) >= stage["terminal_loss_pa"]:
        return math.exp(high)
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if loss_pa(middle) > stage["terminal_loss_pa"]:
            low = middle
        else:
            high = middle
    return math.exp(0.5 * (low + high))


# ------------------------------------------------------------------------------------------------------------
# Section 8: when service falls due


@dataclass(frozen=True)
class Limits:
    """The limits of one run; infinite or minus infinite where there is none. Nothing may mind a full element."""

    flow_m3_s: float
    loss_pa: float
    see_through_m: float
    days: float
    full: bool = True


def time_limit_days(needs: dict, kinds: list[str]) -> float:
    """Give the time limit that applies to a train (section 8)."""
    limits = [needs["discard_days"]]
    if any(kind in RINSEABLE for kind in kinds):
        limits.append(needs["rinse_limit_days"])
    if any(kind not in RINSEABLE for kind in kinds):
        limits.append(needs["replace_limit_days"])
    return min(limit for limit in limits if limit is not None)


def limits_of(case: dict, clean: Moment) -> Limits:
    """Turn the needs into limits (section 8)."""
    needs = case["needs"]
    if needs.get("flow_m3_s") is not None:
        flow = needs["flow_m3_s"]
    elif needs.get("share_of_clean_flow") is not None:
        flow = needs["share_of_clean_flow"] * clean.flow_m3_s
    else:
        flow = -math.inf
    rise_pa = needs.get("max_pressure_rise_pa")
    sight = needs.get("see_through_m")
    return Limits(
        flow_m3_s=flow,
        loss_pa=math.inf if rise_pa is None else clean.loss_pa + rise_pa,
        see_through_m=-math.inf if sight is None else sight,
        days=time_limit_days(needs, [stage["kind"] for stage in case["stages"]]),
    )


def fullness(element: Element, layer_kg: np.ndarray, cake_kg: float) -> float:
    """Give how near an element is to full by its gap or its stated capacity, 1 when it is (section 8)."""
    thickness = cake_kg / element.face_m2 / element.deposit_density_kg_m3
    by_gap = thickness / (FULL_GAP_SHARE * element.half_gap_m)
    return max(by_gap, (float(np.sum(layer_kg)) + cake_kg) / element.dirt_capacity_kg)


def remembered(function: Callable[[np.ndarray], Moment]) -> Callable[[np.ndarray], Moment]:
    """Keep the last results, as derivative and events ask for the same states."""
    store: dict[bytes, Moment] = {}

    def ask(state: np.ndarray) -> Moment:
        key = state.tobytes()
        if key not in store:
            if len(store) > 200:
                store.clear()
            store[key] = function(state)
        return store[key]

    return ask


@dataclass(frozen=True, eq=False)
class Crossing:
    """An event that ends an integration when its function of the state crosses zero."""

    function: Callable[[np.ndarray], float]
    direction: int
    terminal: bool = True

    def __call__(self, _day: float, state: np.ndarray) -> float:
        """Give the function's value as the integrator wants it."""
        return self.function(state)


Instrument = Callable[[np.ndarray], Moment]


def limit_events(plant: Plant, limits: Limits, at: Instrument) -> dict[tuple[str, int], Crossing]:
    """Make the events that end a run, keyed by what governs and the stage (section 8)."""

    def flow_margin(state: np.ndarray) -> float:
        return at(state).flow_m3_s / limits.flow_m3_s - 1.0

    def pressure_excess(state: np.ndarray) -> float:
        return at(state).loss_pa / limits.loss_pa - 1.0

    def clarity_margin(state: np.ndarray) -> float:
        return worst_see_through_m(plant, at(state).removal_1_day) / limits.see_through_m - 1.0

    def overfull(stage: int) -> Callable[[np.ndarray], float]:
        return lambda state: fullness(plant.elements[stage], *split(plant, state)[stage]) - 1.0

    events = {}
    if limits.flow_m3_s > 0.0:
        events["flow", 0] = Crossing(flow_margin, -1)
    if math.isfinite(limits.loss_pa):
        events["pressure", 0] = Crossing(pressure_excess, 1)
    if limits.see_through_m > 0.0:
        events["clarity", 0] = Crossing(clarity_margin, -1)
    for stage, element in enumerate(plant.elements):
        if limits.full and (math.isfinite(element.half_gap_m) or math.isfinite(element.dirt_capacity_kg)):
            events["full", stage] = Crossing(overfull(stage), 1)
    return events


@dataclass(frozen=True, eq=False)
class Regime:
    """On which side of its kinks the law is for one stage."""

    full: np.ndarray
    bridged: bool
    above_floor: bool


def kink_events(plant: Plant, regimes: list[Regime], at: Instrument) -> dict[tuple[str, int], Crossing]:
    """Make the events at which the law has a kink: the integration starts afresh there (section 8)."""

    def room_in_layers(stage: int) -> Callable[[np.ndarray], float]:
        element, still_open = plant.elements[stage], ~regimes[stage].full
        return lambda state: float(
            np.min((1.0 - split(plant, state)[stage][0] / element.layer_capacity_kg)[still_open])
        )

    def past_bridging(stage: int) -> Callable[[np.ndarray], float]:
        element = plant.elements[stage]
        bridge = element.cake_forms_at
        return lambda state: float(loaded_solid_share(element, split(plant, state)[stage][0])[0]) - bridge

    def above_floor(stage: int) -> Callable[[np.ndarray], float]:
        return lambda state: at(state).losses_pa[stage] / CAKE_FLOOR_PA - 1.0

    events = {}
    for stage, (element, regime) in enumerate(zip(plant.elements, regimes, strict=True)):
        if not np.all(regime.full):
            events["layer full", stage] = Crossing(room_in_layers(stage), -1)
        if math.isfinite(element.cake_forms_at) and not regime.bridged:
            events["bridged", stage] = Crossing(past_bridging(stage), 1)
        events["floor", stage] = Crossing(above_floor(stage), -1 if regime.above_floor else 1)
    return events


def fill(element: Element, layer_kg: np.ndarray, full: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mark the layers that have just become full and set them to what they hold then."""
    full = full | (layer_kg >= element.layer_capacity_kg * (1.0 - 1e-11))
    return np.where(full, element.layer_capacity_kg, layer_kg), full


def past_kink(
    plant: Plant, state: np.ndarray, regimes: list[Regime], kink: str, stage: int
) -> tuple[np.ndarray, list[Regime]]:
    """Take state and regimes to the other side of a kink."""
    parts = split(plant, state)
    layer_kg, cake_kg = parts[stage]
    regime = regimes[stage]
    if kink == "layer full":
        layer_kg, full = fill(plant.elements[stage], layer_kg, regime.full)
        regime = replace(regime, full=full)
    elif kink == "bridged":
        regime = replace(regime, bridged=True)
    else:
        regime = replace(regime, above_floor=not regime.above_floor)
    parts[stage] = (layer_kg, cake_kg)
    after = np.concatenate([np.append(layers, cake) for layers, cake in parts])
    return after, [*regimes[:stage], regime, *regimes[stage + 1 :]]


def slopes(plant: Plant, full: list[np.ndarray], at: Instrument) -> Callable[[float, np.ndarray], np.ndarray]:
    """Make the right-hand side of the loading law as the integrator wants it."""

    def slope(_day: float, state: np.ndarray) -> np.ndarray:
        return deposit_rates(plant, state, full, at(state), plant.growth_1_day)

    return slope


def regime_at(element: Element, layer_kg: np.ndarray, loss_pa: float) -> Regime:
    """Tell on which side of its kinks the law is at a state of one stage."""
    full = layer_kg >= element.layer_capacity_kg * (1.0 - 1e-11)
    bridged = float(loaded_solid_share(element, layer_kg)[0]) >= element.cake_forms_at
    return Regime(full, bridged=bridged, above_floor=loss_pa > CAKE_FLOOR_PA)


def run(
    plant: Plant,
    limits: Limits,
    rtol: float,
    start: np.ndarray | None = None,
    longest_step_days: float | None = None,
) -> tuple[float, str, np.ndarray]:
    """Follow a filter, new or from a state, until service falls due: days, what governs, and the state then."""
    at = remembered(lambda state: moment(plant, state))
    state = new_filter(plant) if start is None else start
    regimes = [
        regime_at(element, layer_kg, loss)
        for element, (layer_kg, _), loss in zip(plant.elements, split(plant, state), at(state).losses_pa, strict=True)
    ]
    ends = limit_events(plant, limits, at)
    for (name, _), end in ends.items():
        if end.direction * end.function(state) > 0.0:
            return 0.0, name, state
    day = 0.0
    while True:
        events = ends | kink_events(plant, regimes, at)
        solution = solve_ivp(
            slopes(plant, [regime.full for regime in regimes], at),
            (day, limits.days),
            state,
            method=METHOD,
            rtol=rtol,
            atol=rtol * ATOL_PER_RTOL_KG,
            max_step=longest_step_days or min(LONGEST_STEP_DAYS, limits.days / 50.0),
            events=list(events.values()),
        )
        if not solution.success:
            raise RuntimeError(f"the integration failed: {solution.message}")
        if solution.status == 0:
            return limits.days, "time limit", solution.y[:, -1]
        days, states = solution.t_events or [], solution.y_events or []
        (name, stage), k = next((key, k) for k, key in enumerate(events) if len(days[k]))
        day, state = float(days[k][-1]), states[k][-1]
        if (name, stage) in ends:
            return day, name, state
        state, regimes = past_kink(plant, state, regimes, name, stage)
        if limits.full and any(np.all(regime.full) for regime in regimes):
            return day, "full", state


# ------------------------------------------------------------------------------------------------------------
# Section 9: service


def rinsed(plant: Plant, state: np.ndarray, *, soaked: bool) -> np.ndarray:
    """Give the state after every stage that can be rinsed was rinsed, and soaked (sections 9 and 12)."""
    worse = factors_of(plant.tub)["rinse_loss"]
    after = []
    for element, (layer_kg, cake_kg) in zip(plant.elements, split(plant, state), strict=True):
        kept = min(worse * RINSE_LEAVES[element.kind], MOST_LEFT) if element.kind in RINSEABLE else 1.0
        if soaked and element.kind in RINSEABLE:
            kept *= SOAK_LEAVES
        after.append(kept * np.append(layer_kg, cake_kg))
    return np.concatenate(after)


# ------------------------------------------------------------------------------------------------------------
# The answer


def catch_balance_relative(plant: Plant, state: np.ndarray) -> float:
    """Check that what comes in over a water's life is caught or leaves with the water.

    The catch is summed over every layer and cake of every element, so capture, sharing out and tub are
    checked together. Returns the difference over what came in, all as organic dirt.
    """
    now = moment(plant, state)
    full = [np.zeros(element.layers, dtype=bool) for element in plant.elements]
    load = as_organic(plant.load)
    came_in = float(np.sum(load)) * plant.life_days
    if came_in == 0.0:
        return 0.0
    caught = float(np.sum(deposit_rates(plant, state, full, now, 0.0))) * plant.in_parallel * plant.life_days
    changed = float(np.sum(content_at(load, now.removal_1_day, plant.life_days, plant.dead_water)))
    return abs(came_in - caught - changed) / came_in


def due_keys(plant: Plant, days: float, governed_by: str, state: np.ndarray) -> dict:
    """Describe the filter when it is due."""
    now = moment(plant, state)
    parts = split(plant, state)
    return {
        "days": days,
        "governed_by": governed_by,
        "due_flow_m3_s": now.flow_m3_s,
        "due_loss_pa": now.loss_pa,
        "deposit_kg": [float(np.sum(layer_kg)) + cake_kg for layer_kg, cake_kg in parts],
        "cake_kg": [cake_kg for _, cake_kg in parts],
        "see_through_worst_m": worst_see_through_m(plant, now.removal_1_day),
        "clearing_due_hours": clearing_hours(plant, now.removal_1_day),
    }


def solve(case: dict, *, rtol: float = 1e-6) -> dict:
    """Solve one case from a new filter to the day it is due.

    Parameters
    ----------
    case
        Tub, pump, plumbing or lift test, stages in the order the water meets them, housings in parallel,
        needs. All SI unless a name says otherwise. A tub may have dead water: `dye_even_after_s`, `still_share`.
    rtol
        Relative tolerance of the integration.

    Returns
    -------
    dict
        The clean filter, the filter when due, and under `scheduled` the run by the other limits if only the
        clarity fails clean, else None.
    """
    plant = plant_of(case)
    new = new_filter(plant)
    clean = moment(plant, new)
    limits = limits_of(case, clean)
    scheduled = None
    if clean.flow_m3_s <= 0.0 or clean.flow_m3_s < limits.flow_m3_s:
        days, governed_by, state = 0.0, "flow", new
    elif worst_see_through_m(plant, clean.removal_1_day) < limits.see_through_m:
        days, governed_by, state = 0.0, "clarity", new
        others = Limits(limits.flow_m3_s, limits.loss_pa, -math.inf, limits.days)
        scheduled = due_keys(plant, *run(plant, others, rtol))
    else:
        days, governed_by, state = run(plant, limits, rtol)
    return {
        "clean_flow_m3_s": clean.flow_m3_s,
        "clean_loss_pa": clean.loss_pa,
        "see_through_clean_m": best_see_through_m(plant, clean.removal_1_day),
        "clearing_clean_hours": clearing_hours(plant, clean.removal_1_day),
        **due_keys(plant, days, governed_by, state),
        "catch_balance_relative": catch_balance_relative(plant, state),
        "scheduled": scheduled,
    }


# ------------------------------------------------------------------------------------------------------------
# Its own error


def example_case(stages: list[dict], in_parallel: int = 1) -> dict:
    """Give a household cold tub with a small pump and the stages wanted."""
    return {
        "tub": {
            "volume_m3": 0.42,
            "depth_m": 0.7,
            "water_temperature_c": 4.0,
            "uses_per_day": 6.0,
            "sessions_per_day": 1.0,
            "showered_share": 0.5,
            "feet": "rinsed",
            "surroundings": "outdoors",
            "open_surface_m2": 0.6,
            "uncovered_hours_per_day": 2.0,
            "water_life_days": None,
            "disinfectant_kept": False,
        },
        "pump": {"shutoff_head_m": 2.4, "max_flow_m3_s": 2.4 / 3600.0, "hours_per_day": 24.0},
        "plumbing": {
            "bore_m": 0.019,
            "length_m": 3.0,
            "elbows_90": 2,
            "hose_barbs": 2,
            "other_k": 4.0,
            "roughness_m": 1.5e-6,
            "static_lift_m": 0.0,
        },
        "lift_test": None,
        "stages": stages,
        "housings_in_parallel": in_parallel,
        "needs": {
            "flow_m3_s": 3.0 * 0.42 / 3600.0,
            "share_of_clean_flow": None,
            "see_through_m": 4.0 * 0.7,
            "max_pressure_rise_pa": None,
            "rinse_limit_days": 14.0,
            "replace_limit_days": 60.0,
            "discard_days": 365.0,
        },
    }


def example_cases() -> dict[str, dict]:
    """Give a few varied cases."""
    ten_inch = {"outer_radius_m": 0.0318, "inner_radius_m": 0.0138, "length_m": 0.250}
    wide = ten_inch | {"outer_radius_m": 0.057, "inner_radius_m": 0.014}
    spun = {"kind": "depth", "make": "spun", "rating_m": 20e-6, **ten_inch}
    wound = {"kind": "depth", "make": "wound", "rating_m": 75e-6}
    pleated = {"kind": "pleated", "rating_m": 20e-6, "area_m2": 0.5, **ten_inch}
    foam = {"kind": "foam", "rating_m": 350e-6, "pores_per_inch": 20.0, "area_m2": 0.02, "thickness_m": 0.05}
    pad = {"kind": "pad", "rating_m": 20e-6, "area_m2": 0.05, "thickness_m": 0.01}
    dead = example_case([pleated])
    dead["tub"] |= {"dye_even_after_s": 3600.0}
    return {
        "spun 20 um": example_case([spun]),
        "wound 75 um": example_case([wound | ten_inch]),
        "wide wound 75 um": example_case([wound | wide]),
        "pleated 20 um": example_case([pleated]),
        "foam 20 ppi": example_case([foam]),
        "foam, pleated 20 um": example_case([foam, pleated]),
        "flat pad 20 um": example_case([pad]),
        "two spun 20 um": example_case([spun], in_parallel=2),
        "dead water": dead,
    }


def relative_difference(a: float, b: float) -> float:
    """Give the difference of two numbers over the second, 0 where both are 0."""
    return 0.0 if a == b else abs(a - b) / max(abs(b), 1e-30)


def main() -> None:
    """Print the cases and the difference between a relative tolerance of 1e-6 and 1e-8."""
    print(  # noqa: T201 - a script says what it found
        f"{'case':<20}{'days':>8} {'due by':<11}{'L/h new':>8}{'L/h due':>8}{'Pa new':>7}{'Pa due':>7}"
        f"{'clear m':>8}{'worst m':>8}{'balance':>9}{'err days':>9}{'err mass':>9}{'s':>7}  g deposit (cake)"
    )
    for name, case in example_cases().items():
        started = time.perf_counter()
        result = solve(case)
        seconds = time.perf_counter() - started
        finer = solve(case, rtol=1e-8)
        rows = [(name, result, finer)]
        if result["scheduled"] is not None:
            rows.append(("  by other limits", result["scheduled"], finer["scheduled"]))
        for label, row, fine in rows:
            masses = [relative_difference(a, b) for a, b in zip(row["deposit_kg"], fine["deposit_kg"], strict=True)]
            deposit = ", ".join(
                f"{1e3 * m:.3f} ({1e3 * c:.3f})" for m, c in zip(row["deposit_kg"], row["cake_kg"], strict=True)
            )
            print(  # noqa: T201 - a script says what it found
                f"{label:<20}{row['days']:>8.3f} {row['governed_by']:<11}"
                f"{3.6e6 * result['clean_flow_m3_s']:>8.1f}{3.6e6 * row['due_flow_m3_s']:>8.1f}"
                f"{result['clean_loss_pa']:>7.0f}{row['due_loss_pa']:>7.0f}"
                f"{result['see_through_clean_m']:>8.3f}{row['see_through_worst_m']:>8.3f}"
                f"{result['catch_balance_relative']:>9.0e}"
                f"{relative_difference(row['days'], fine['days']):>9.0e}{max(masses):>9.0e}{seconds:>7.2f}"
                f"  {deposit}"
            )


if __name__ == "__main__":
    main()
