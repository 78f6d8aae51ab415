"""Inverse questions in words."""

from functools import partial

from filtration.answers.size_answer import AreaSize, AreaTrial, PumpSize, PumpTrial
from filtration.base.units import in_unit
from filtration.present.words.phrases import days, due, ended, flow, number, on_pump
from filtration.present.words.sentences import single

_WELL_OVER = 1.5  # times the shortest run: then a little more pump is not worth a word
_ASIDES = single("asides")


def told(size: PumpSize | AreaSize) -> tuple[str, dict[str, list[str]]]:
    """Return in plain words which pump or how much of an element it takes, and what stands below, lines by heading."""
    if isinstance(size, PumpSize):
        return _pump_headline(size), {"Pumps tried": list(map(_pump_line, size.sizes)), "Notes": notes(size)}
    return _area_headline(size), {"Common sizes": list(map(_area_line, size.sizes)), "Notes": notes(size)}


def _pump_headline(size: PumpSize) -> str:
    present = size.present
    scaled = "measured in the lift test" if size.known_by == "lift test" else "of the present one"
    first_run = due(present.days_to_first_service)
    if present.suffices:
        does = f"suffices: its first run lasts {first_run}"
    elif present.clean_flow_l_per_h <= size.wanted_flow_l_per_h:
        does = f"does not suffice: even with the cartridge new it gives {flow(present.clean_flow_l_per_h)}"
    else:
        least = f"{days(size.shortest_run_days)} is the least you accept"
        does = f"does not suffice: its first run lasts {first_run}, and {least}"
    return (
        f"To keep {flow(size.wanted_flow_l_per_h)} at the rinse (what is left when it needs service), "
        f"{on_pump(size.name, size.pump, size.study)} needs {_pump(size)}: {_times(size.factor)} the head and flow "
        f"{scaled}. With the cartridge new that gives {flow(size.clean_flow_l_per_h)}; the first run lasts "
        f"{due(size.days_to_first_service)}: {ended(size.governed_by, size.days_to_first_service)}. "
        f"The present pump {does}."
    )


def _pump_line(trial: PumpTrial) -> str:
    which = "the present one" if trial.factor == 1.0 else _times(trial.factor)
    run = f", first run {due(trial.days_to_first_service)}, limited by {trial.governed_by}"
    short = f"; {_at_once(trial.governed_by)}"
    return (
        f"{which}, {number(trial.head_m, 3)} m and {flow(trial.flow_l_per_h)}: {flow(trial.clean_flow_l_per_h)} when "
        f"new{run if trial.days_to_first_service else short}"
    )


def _at_once(limit: str) -> str:
    return "cloudy even when new" if limit == "clarity" else "too little even when new"


def _area_headline(size: AreaSize) -> str:
    each = f" (each of {size.housings_in_parallel} side by side)" if size.housings_in_parallel > 1 else ""
    of = "" if size.name == size.element else f" of {size.element}"
    wanted = "1 day" if size.wanted_days == 1.0 else f"{size.wanted_days:g} days"
    needs = f"{_amount(size.area_m2, size.length_m)}{of}{each}"
    present = _amount(size.present_area_m2, size.present_length_m)
    sentences = [
        f"For a first run of {wanted}, {on_pump(size.name, size.pump, size.study)} needs {needs}: "
        f"{_times(size.factor)} the present {present}, whose first run lasts {due(size.present_days)}.",
        f"The run then ends as {ended(size.governed_by, size.wanted_days)}.",
    ]
    if size.fits is not None:
        sentences.append(_packed(size))
    reach = next((trial for trial in size.sizes if trial.reaches), None)
    if reach is not None:
        lasts = due(reach.days_to_first_service)
        sentences.append(f"Of the common sizes the smallest that lasts that long is {_size(reach)}: {lasts}.")
    elif size.sizes:
        sentences.append("None of the common sizes lasts that long; several housings in parallel would.")
    return " ".join(sentences)


def _packed(size: AreaSize) -> str:
    """Say what the present size can hold."""
    most, longest = number(size.most_area_m2 or 0.0), days(size.longest_in_this_size_days or 0.0)
    room = "fit" if size.fits else "do not fit"
    packed = size.area_in_this_size_m2
    told = f"That many pleats {room} in the present size, which {most} m² would fill"
    if packed is None:
        return f"{told}; however many it has, the first run lasts {longest} at most, as they close up."
    return f"{told}; in it {number(packed, 3)} m² would do, pleats {'wider apart' if size.factor < 1.0 else 'closer'}."


def _area_line(trial: AreaTrial) -> str:
    if not trial.days_to_first_service:
        return f"{_size(trial)}: {_at_once(trial.governed_by)}"
    return f"{_size(trial)}: {due(trial.days_to_first_service)}, {'long enough' if trial.reaches else 'too short'}"


def notes(size: PumpSize | AreaSize) -> list[str]:
    """Return what to know beside the figures."""
    if isinstance(size, PumpSize):
        barely = size.days_to_first_service < _WELL_OVER * size.shortest_run_days
        first = [
            (_ASIDES["least pump"], barely),
            (_ASIDES["pump scaled"], True),
            (_ASIDES["lift test scaled"], size.known_by == "lift test"),
        ]
    else:
        first = [(_ASIDES["area decides"], True), (_ASIDES["more pleats"], size.kind == "pleated")]
    return [*(text for text, applies in first if applies), *map(partial(_left_aside, size), size.left_aside)]


def _left_aside(size: PumpSize | AreaSize, key: str) -> str:
    """Return why a need was left aside: it would end the run before, or nothing sized meets it."""
    needs = size.study.needs
    limits = {
        "needs.rinse_at_least_every": needs.rinse_limit_days,
        "needs.replace_at_least_every": needs.replace_limit_days,
        "needs.discard_after": needs.discard_days,
    }
    if key in limits:
        limit = f"{key} = {number(limits[key], 3)} days"
        return f"Left aside: {limit} would end the run before. Change it if you mean the longer run."
    what, seen = "pump" if isinstance(size, PumpSize) else "area", number(needs.see_through_m)
    return (
        f"Left aside: {key}. No {what} with this cartridge gives the {seen} m of visibility that you want; a finer "
        "rating or fresher water may."
    )


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
