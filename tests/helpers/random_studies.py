"""Studies drawn at random, and their answers, once a session."""

import random
from collections.abc import Sequence

from studies import Given, answered

from filtration import Comparison

_RATINGS_UM = (1, 5, 10, 20, 25, 50, 75, 100)
_SIZES = ("5 x 2.5 in", "10 x 2.5 in", "20 x 2.5 in", "10 x 4.5 in", "20 x 4.5 in")
_KINDS = ("spun", "wound", "pleated", "pleated", "pleated", "foam", "pad")


def random_answer(seed: int) -> Comparison:
    """Answer ``random_study(seed)``, once a session."""
    return answered(random_study(seed))


def random_study(seed: int, options: int = 2) -> Given:
    """Draw a household or club tub, its pump, its needs and some options, as the tables of a study file.

    Whatever a run depends on is stated, so that nothing leans on a default of the library.
    """
    draw = random.Random(seed)
    litres = round(draw.uniform(150.0, 1500.0))
    data: Given = {"name": f"Tub {seed}", "tub": _tub(draw, litres), "cooling": {"cop": 2.0}}
    most = litres * draw.uniform(4.0, 12.0)
    shutoff = draw.uniform(1.0, 8.0)
    data["pump"] = {
        "power": f"{draw.uniform(10, 150):.4g} W",
        "placed": draw.choice(("in the water", "outside")),
        "hours_per_day": draw.choice((24, 24, 24, round(draw.uniform(6, 24), 1))),
        "price": round(draw.uniform(0, 150)),
        "life": f"{draw.randint(2, 8)} year",
    }
    way = draw.choice(("box", "box", "curve", "lift test"))
    if way == "box":
        data["pump"] |= {"shutoff_head": f"{shutoff:.4g} m", "max_flow": f"{most:.4g} L/h"}
    elif way == "curve":
        points = _falling(draw, shutoff, most)
        data["pump"]["curve"] = [[f"{flow:.5g} L/h", f"{head:.5g} m"] for flow, head in points]
    else:
        points = _falling(draw, shutoff, 0.8 * most)
        lifts = [[f"{head:.5g} m", f"{flow:.5g} L/h"] for flow, head in reversed(points)]
        data["measured"] = {"lift_test": lifts}
    length = draw.uniform(1.0, 10.0)
    data["plumbing"] = {
        "bore": f"{draw.choice((13, 16, 19, 25, 32, 38)) * (1.0 if litres < 700 else 1.3):.4g} mm",
        "length": f"{length:.4g} m",
        "elbows_90": draw.randint(0, 6),
        "hose_barbs": draw.randint(0, 4),
        "other_k": round(draw.uniform(2.0, 8.0), 2),
        "roughness": "0.0015 mm",
        "static_lift": draw.choice(("0 m", "0 m", f"{0.2 * shutoff:.3g} m")),
        "length_outside": f"{0.5 * length:.4g} m",
        "insulation": draw.choice(("0 mm", "10 mm", "19 mm")),
    }
    if way == "lift test":  # it holds all of the plumbing
        del data["plumbing"]
    data["needs"] = _needs(draw)
    data["prices"] = _prices(draw)
    data["elements"] = [_element(draw, name) for name in ("A", "B", "C", "D")]
    data["options"] = [_option(draw, place) for place in range(options)]
    return data


def random_train(seed: int, options: int = 2) -> Given:
    """Draw a tub as ``random_study`` does, with trains of three elements, and dips that differ from month to month."""
    data = random_study(seed, options=0)
    draw = random.Random(f"train {seed}")
    data["tub"]["uses_by_month"] = [draw.randint(0, 12) for _ in range(12)]
    data["options"] = [_option(draw, place, (3,)) for place in range(options)]
    return data


def _tub(draw: random.Random, litres: int) -> Given:
    tub: Given = {
        "volume": f"{litres} L",
        "depth": f"{draw.uniform(0.5, 1.0):.3g} m",
        "open_surface": f"{draw.uniform(0.3, 2.0):.3g} m^2",
        "water_temperature": f"{draw.uniform(2.0, 12.0):.3g} degC",
        "uses_per_day": round(litres / draw.uniform(30.0, 400.0), 1),
        "sessions_per_day": draw.choice((1, 1, 2, 3, 6, 0.5)),
        "showered_share": round(draw.uniform(0, 1), 2),
        "feet": draw.choice(("rinsed", "rinsed", "indoors", "indoors", "from the garden")),
        "surroundings": draw.choice(("outdoors", "indoors")),
        "uncovered_hours_per_day": round(draw.uniform(0, 24), 1),
        "disinfectant": draw.choice(("kept", "none", "not stated")),
        "air_temperature": f"{draw.uniform(0, 25):.3g} degC",
    }
    if draw.random() < 0.7:
        tub["water_change_every"] = f"{draw.uniform(3, 60):.3g} day"
    return tub


def _falling(draw: random.Random, shutoff_m: float, most_l_h: float) -> list[tuple[float, float]]:
    """Points of a pump's curve from shut-off to the largest flow."""
    number, power = draw.randint(3, 6), draw.uniform(1.0, 2.5)
    shares = [place / (number - 1) for place in range(number)]
    return [(share * most_l_h, shutoff_m * (1.0 - share**power)) for share in shares]


def _needs(draw: random.Random) -> Given:
    needs: Given = {
        "rinse_at_least_every": draw.choice(("14 day", "30 day", "60 day", "never")),
        "replace_at_least_every": draw.choice(("30 day", "60 day", "never")),
        "discard_after": draw.choice(("365 day", "365 day", "180 day")),
    }
    if draw.random() < 0.6:
        needs["turnovers_per_hour"] = round(draw.uniform(1.0, 3.5), 2)
    else:
        needs["share_of_clean_flow"] = round(draw.uniform(0.4, 0.95), 2)
    if draw.random() < 0.3:
        needs["max_pressure_rise"] = f"{draw.uniform(1, 30):.3g} kPa"
    needs["see_through"] = f"{draw.choice((0.3, draw.uniform(0.5, 4.0), draw.uniform(2.0, 6.0))):.3g} m"
    if draw.random() < 0.3:
        needs["shortest_run"] = f"{draw.uniform(1, 8):.2g} day"
    return needs


def _prices(draw: random.Random) -> Given:
    return {
        "electricity_per_kwh": round(draw.uniform(0.1, 0.5), 3),
        "water_per_m3": round(draw.uniform(1, 8), 2),
        "own_time_per_hour": draw.choice((0, 0, 12, 25)),
        "disposal_each": round(draw.uniform(0, 2), 2),
        "disinfectant_per_month": draw.choice((0, 0, 6)),
        "discount_rate": draw.choice((0, 0.03, 0.06)),
        "horizon": f"{draw.choice((1, 3, 5))} year",
    }


def _element(draw: random.Random, name: str) -> Given:
    kind, rating = draw.choice(_KINDS), draw.choice(_RATINGS_UM)
    element: Given = {"name": name, "price": round(draw.uniform(3, 60), 2), "rating": f"{rating} um"}
    if kind == "pad":
        shape: Given = {"area": f"{draw.uniform(0.01, 0.1):.3g} m^2", "thickness": f"{draw.uniform(5, 30):.3g} mm"}
        element |= {"kind": "spun"} | shape
    elif kind == "foam":
        element |= {"kind": "foam", "pores_per_inch": draw.choice((10, 20, 30, 45))}
        element |= {"area": f"{draw.uniform(0.008, 0.08):.3g} m^2", "thickness": f"{draw.uniform(20, 100):.3g} mm"}
        if draw.random() < 0.7:
            del element["rating"]
    else:
        element |= {"kind": kind, "size": draw.choice(_SIZES)}
        if draw.random() < 0.25:
            del element["size"]
            outer = draw.uniform(50, 120)
            element |= {"outer_diameter": f"{outer:.4g} mm", "inner_diameter": f"{outer * 0.4:.4g} mm"}
            element["length"] = f"{draw.uniform(120, 500):.4g} mm"
            if kind == "pleated":
                element["area"] = f"{draw.uniform(0.2, 0.6):.3g} m^2"
        if draw.random() < 0.15:
            loss = draw.uniform(0.5, 3.0) if kind in ("spun", "wound") else draw.uniform(0.3, 1.0)
            element |= {"clean_loss": [["600 L/h", f"{loss:.3g} kPa"]], "clean_loss_at": "20 degC"}
    if draw.random() < 0.1:
        element["dirt_capacity"] = f"{draw.uniform(2, 60):.3g} g"
    if element["kind"] in ("foam", "pleated"):
        element |= {
            "rinse_minutes": draw.choice((5, 10, 20)),
            "rinse_recovery": round(draw.uniform(0.6, 0.97), 2),
            "soak_every_rinses": draw.choice((0, 2, 4)),
            "soak_recovery": round(draw.uniform(0.3, 0.9), 2),
            "soak_price": round(draw.uniform(0, 3), 2),
        }
    return element


def _option(draw: random.Random, place: int, numbers: Sequence[int] = (1, 1, 2)) -> Given:
    stages = draw.sample("ABCD", draw.choice(numbers))
    return {
        "name": f"Option {place}: {' then '.join(stages)}",
        "stages": stages,
        "housings_in_parallel": draw.choice((1, 1, 2)),
        "housing_price": round(draw.uniform(20, 60)),
    }
