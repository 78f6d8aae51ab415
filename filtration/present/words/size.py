"""Inverse questions in words."""

from filtration.answers.size_answer import AreaSize, AreaTrial, PumpSize, PumpTrial
from filtration.base.units import in_unit
from filtration.present.words.phrases import AREA_DECIDES, LIMITS, days, flow, number, on_pump

_WELL_OVER = 1.5  # times the shortest run: then a little more pump is not worth a word
_LEAST = "This is the least that does, with nothing to spare for dirt or luck. See above what a little more buys."
_SCALED = (
    "Head and flow are scaled together, as within a maker's series; a pump with more of one and less of the other may "
    "do as well: enter it as another of [[pumps]] and compare. Power is not scaled."
)
_LIFT_TEST = (
    "The lift test is scaled as a whole, lift and flow, hoses and all: the hoses then take in proportion to the flow "
    "instead of nearly its square. That flatters a larger pump; a wider bore may help as much."
)
_MORE_PLEATS = (
    "More area means more of the same pleats, as far apart as now. The same area in a smaller element has them closer, "
    "and the cake soon closes the gaps."
)


def pump_headline(size: PumpSize) -> str:
    """Return in plain words which pump keeps a flow."""
    present = size.present
    scaled = "measured in the lift test" if size.known_by == "lift test" else "of the present one"
    first_run = days(present.days_to_first_service)
    if present.suffices:
        does = f"suffices: its first run lasts {first_run}"
    elif present.clean_flow_l_per_h <= size.wanted_flow_l_per_h:
        does = f"does not suffice: even with the element new it gives {flow(present.clean_flow_l_per_h)}"
    else:
        least = f"{days(size.shortest_run_days)} are the least you put up with"
        does = f"does not suffice: its first run lasts {first_run}, and {least}"
    return (
        f"To keep {flow(size.wanted_flow_l_per_h)} when due (what is left when it wants service), "
        f"{on_pump(size.name, size.pump, size.study)} needs {_pump(size)}: {_times(size.factor)} the head and flow "
        f"{scaled}. With the element new that gives {flow(size.clean_flow_l_per_h)}; the first run lasts "
        f"{days(size.days_to_first_service)}: {LIMITS[size.governed_by]}. The present pump {does}."
    )


def pump_parts(size: PumpSize) -> dict[str, list[str]]:
    """Return what stands below the headline of a pump, lines by heading."""
    return {"Pumps tried": [_pump_line(trial) for trial in size.sizes], "Notes": pump_notes(size)}


def _pump_line(trial: PumpTrial) -> str:
    which = "the present one" if trial.factor == 1.0 else _times(trial.factor)
    run = f", first run {days(trial.days_to_first_service)}, ended by {trial.governed_by}"
    short = f"; {_at_once(trial.governed_by)}"
    return (
        f"{which}, {number(trial.head_m, 3)} m and {flow(trial.flow_l_per_h)}: {flow(trial.clean_flow_l_per_h)} when "
        f"new{run if trial.days_to_first_service else short}"
    )


def _at_once(limit: str) -> str:
    return "dull even when new" if limit == "clarity" else "too little even when new"


def pump_notes(size: PumpSize) -> list[str]:
    """Return what to know beside the figures of a pump."""
    least = [_LEAST] if size.days_to_first_service < _WELL_OVER * size.shortest_run_days else []
    return [*least, _SCALED, *([_LIFT_TEST] if size.known_by == "lift test" else []), *_aside_notes(size, "pump")]


def area_headline(size: AreaSize) -> str:
    """Return in plain words how much of an element gives a wished interval."""
    each = f" (each of {size.housings_in_parallel} side by side)" if size.housings_in_parallel > 1 else ""
    of = "" if size.name == size.element else f" of {size.element}"
    wished = "1 day" if size.wanted_days == 1.0 else f"{size.wanted_days:g} days"
    needs = f"{_amount(size.area_m2, size.length_m)}{of}{each}"
    present = _amount(size.present_area_m2, size.present_length_m)
    sentences = [
        f"For a first run of {wished}, {on_pump(size.name, size.pump, size.study)} needs {needs}: "
        f"{_times(size.factor)} the present {present}, whose first run lasts {days(size.present_days)}.",
        f"The run then ends as {LIMITS[size.governed_by]}.",
    ]
    if size.fits is not None:
        sentences.append(_packed(size))
    reach = next((trial for trial in size.sizes if trial.reaches), None)
    if reach is not None:
        lasts = days(reach.days_to_first_service)
        sentences.append(f"Of the common sizes the smallest that lasts so long is {_size(reach)}: {lasts}.")
    elif size.sizes:
        sentences.append("None of the common sizes lasts so long; several housings in parallel would.")
    return " ".join(sentences)


def _packed(size: AreaSize) -> str:
    """Say what the present size can hold."""
    most, longest = number(size.most_area_m2 or 0.0), days(size.longest_in_this_size_days or 0.0)
    room = "find room" if size.fits else "do not find room"
    packed = size.area_in_this_size_m2
    told = f"So many pleats {room} in the present size, which {most} m² would fill"
    if packed is None:
        return f"{told}; however many stand in it, the first run lasts {longest} at the longest, as they close up."
    return f"{told}; in it {number(packed, 3)} m² would do, pleats {'wider apart' if size.factor < 1.0 else 'closer'}."


def area_parts(size: AreaSize) -> dict[str, list[str]]:
    """Return what stands below the headline of an area, lines by heading."""
    return {"Common sizes": [_area_line(trial) for trial in size.sizes], "Notes": area_notes(size)}


def _area_line(trial: AreaTrial) -> str:
    if not trial.days_to_first_service:
        return f"{_size(trial)}: {_at_once(trial.governed_by)}"
    return f"{_size(trial)}: {days(trial.days_to_first_service)}, {'long enough' if trial.reaches else 'too short'}"


def area_notes(size: AreaSize) -> list[str]:
    """Return what to know beside the figures of an area."""
    return [AREA_DECIDES, *([_MORE_PLEATS] if size.kind == "pleated" else []), *_aside_notes(size, "area")]


def _aside_notes(size: PumpSize | AreaSize, what: str) -> list[str]:
    needs = size.study.needs
    limits = {
        "needs.rinse_at_least_every": needs.rinse_limit_days,
        "needs.replace_at_least_every": needs.replace_limit_days,
        "needs.discard_after": needs.discard_days,
    }
    return [
        f"Left aside: {key} = {number(limits[key], 3)} days would end the run before. Change it if you mean the longer "
        "run."
        if key in limits
        else f"Left aside: {key}. No {what} with this element gives the view of {number(needs.see_through_m)} m that "
        "is wanted; a finer rating or fresher water may."
        for key in size.left_aside
    ]


def _times(factor: float) -> str:
    return f"{factor:.3g} times"


def _pump(size: PumpSize) -> str:
    head, most = number(size.curve_m[0], 3), flow(size.curve_l_per_h[-1])
    return {
        "box": f"a pump of {head} m and {most}",
        "curve": f"a pump whose curve runs from {head} m to {most}",
        "lift test": f"a pump that would lift {head} m and push {most} in your lift test",
    }[size.known_by]


def _amount(area_m2: float | None, length_m: float | None) -> str:
    """Return an area, of what has none the length."""
    return f"{number(in_unit(length_m or 0.0, 'mm'), 3)} mm" if area_m2 is None else f"{number(area_m2, 3)} m²"


def _size(trial: AreaTrial) -> str:
    return trial.size if trial.area_m2 is None else f"{trial.size} with {number(trial.area_m2, 3)} m²"
