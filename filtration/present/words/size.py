"""Inverse questions in words, and as machine-readable documents."""

from dataclasses import asdict

from filtration.answers.size_answer import AreaSize, AreaTrial, PumpSize, PumpTrial
from filtration.base.units import in_unit
from filtration.present.words.phrases import LIMITS, days, number

FORMAT = 1
_WELL_OVER = 1.5  # times the shortest run: then a little more pump is not worth a word


def pump_headline(size: PumpSize) -> str:
    """Return in plain words which pump keeps a flow.

    Parameters
    ----------
    size : PumpSize
        The answer.

    Returns
    -------
    str
        A short paragraph.
    """
    present = size.present
    sentences = [
        f"To keep {_flow(size.wanted_flow_l_per_h)} when due (what is left when it wants service), {_titled(size)} "
        f"needs {_pump(size)}: {_times(size.factor)} the head and flow {_of_what(size)}.",
        f"With the element new that gives {_flow(size.clean_flow_l_per_h)}; the first run lasts "
        f"{days(size.days_to_first_service)}: {LIMITS[size.governed_by]}.",
    ]
    if present.suffices:
        sentences.append(f"The present pump suffices: its first run lasts {days(present.days_to_first_service)}.")
    elif present.clean_flow_l_per_h <= size.wanted_flow_l_per_h:
        new = _flow(present.clean_flow_l_per_h)
        sentences.append(f"The present pump does not suffice: even with the element new it gives {new}.")
    else:
        sentences.append(
            f"The present pump does not suffice: its first run lasts {days(present.days_to_first_service)}, and "
            f"{days(size.shortest_run_days)} are the least you put up with."
        )
    return " ".join(sentences)


def pump_parts(size: PumpSize) -> dict[str, list[str]]:
    """Return what stands below the headline of a pump.

    Parameters
    ----------
    size : PumpSize
        The answer.

    Returns
    -------
    dict of str to list of str
        Lines by heading.
    """
    return {"Pumps tried": [_pump_line(trial) for trial in size.sizes], "Notes": _pump_notes(size)}


def _pump_line(trial: PumpTrial) -> str:
    which = "the present one" if trial.factor == 1.0 else _times(trial.factor)
    head = f"{which}, {number(trial.head_m, 3)} m and {_flow(trial.flow_l_per_h)}"
    if not trial.days_to_first_service:
        return f"{head}: {_flow(trial.clean_flow_l_per_h)} when new; {_at_once(trial.governed_by)}"
    return (
        f"{head}: {_flow(trial.clean_flow_l_per_h)} when new, first run {days(trial.days_to_first_service)}, ended by "
        f"{trial.governed_by}"
    )


def _at_once(limit: str) -> str:
    return "dull even when new" if limit == "clarity" else "too little even when new"


def _pump_notes(size: PumpSize) -> list[str]:
    notes = []
    if size.days_to_first_service < _WELL_OVER * size.shortest_run_days:
        notes.append(
            "This is the least that does, with nothing to spare for dirt or luck. See above what a little more buys."
        )
    notes.append(
        "Head and flow are scaled together, as within a maker's series; a pump with more of one and less of the other "
        "may do as well: enter it as another of [[pumps]] and compare. Power is not scaled."
    )
    if size.known_by == "lift test":
        notes.append(
            "The lift test is scaled as a whole, lift and flow, hoses and all: the hoses then take in proportion to "
            "the flow instead of nearly its square. That flatters a larger pump; a wider bore may help as much."
        )
    return notes + _aside_notes(size.left_aside, size)


def area_headline(size: AreaSize) -> str:
    """Return in plain words how much of an element gives a wished interval.

    Parameters
    ----------
    size : AreaSize
        The answer.

    Returns
    -------
    str
        A short paragraph.
    """
    each = f" (each of {size.housings_in_parallel} side by side)" if size.housings_in_parallel > 1 else ""
    of = "" if size.name == size.element else f" of {size.element}"
    sentences = [
        f"For a first run of {_wished(size.wanted_days)}, {_titled(size)} needs {_amount(size)}{of}"
        f"{each}: {_times(size.factor)} the present {_present(size)}, whose first run lasts "
        f"{days(size.present_days)}.",
        f"The run then ends as {LIMITS[size.governed_by]}.",
    ]
    if size.fits is not None:
        sentences.append(_packed(size))
    if size.sizes:
        reach = [trial for trial in size.sizes if trial.reaches]
        sentences.append(
            f"Of the common sizes the smallest that lasts so long is {_size(reach[0])}: "
            f"{days(reach[0].days_to_first_service)}."
            if reach
            else "None of the common sizes lasts so long; several housings in parallel would."
        )
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
    """Return what stands below the headline of an area.

    Parameters
    ----------
    size : AreaSize
        The answer.

    Returns
    -------
    dict of str to list of str
        Lines by heading.
    """
    return {"Common sizes": [_area_line(trial) for trial in size.sizes], "Notes": _area_notes(size)}


def _area_line(trial: AreaTrial) -> str:
    if not trial.days_to_first_service:
        return f"{_size(trial)}: {_at_once(trial.governed_by)}"
    reaches = "long enough" if trial.reaches else "too short"
    return f"{_size(trial)}: {days(trial.days_to_first_service)}, {reaches}"


def _area_notes(size: AreaSize) -> list[str]:
    notes = ["Area decides how long an element lasts; the micron rating mostly decides how clear the water is."]
    if size.kind == "pleated":
        notes.append(
            "More area means more of the same pleats, as far apart as now. The same area in a smaller element has them "
            "closer, and the cake soon closes the gaps."
        )
    return notes + _aside_notes(size.left_aside, size)


def _aside_notes(keys: tuple[str, ...], size: PumpSize | AreaSize) -> list[str]:
    needs = size.study.needs
    limits = {
        "needs.rinse_at_least_every": needs.rinse_limit_days,
        "needs.replace_at_least_every": needs.replace_limit_days,
        "needs.discard_after": needs.discard_days,
    }
    what = "pump" if isinstance(size, PumpSize) else "area"
    return [
        f"Left aside: {key} = {number(limits[key], 3)} days would end the run before. Change it if you mean the longer "
        "run."
        if key in limits
        else f"Left aside: {key}. No {what} with this element gives the view of {number(needs.see_through_m)} m that "
        "is wanted; a finer rating or fresher water may."
        for key in keys
    ]


def _flow(l_per_h: float) -> str:
    return f"{number(l_per_h, 3)} L/h"


def _times(factor: float) -> str:
    return f"{factor:.3g} times"


def _wished(days_: float) -> str:
    return "1 day" if days_ == 1.0 else f"{days_:g} days"


def _titled(size: PumpSize | AreaSize) -> str:
    return f"{size.name} on {size.pump}" if len(size.study.pumps) > 1 else size.name


def _pump(size: PumpSize) -> str:
    head, flow = number(size.curve_m[0], 3), _flow(size.curve_l_per_h[-1])
    if size.known_by == "box":
        return f"a pump of {head} m and {flow}"
    if size.known_by == "curve":
        return f"a pump whose curve runs from {head} m to {flow}"
    return f"a pump that would lift {head} m and push {flow} in your lift test"


def _of_what(size: PumpSize) -> str:
    return "measured in the lift test" if size.known_by == "lift test" else "of the present one"


def _amount(size: AreaSize) -> str:
    if size.area_m2 is None:
        return f"{_length(size.length_m or 0.0)}"
    return f"{number(size.area_m2, 3)} m²"


def _present(size: AreaSize) -> str:
    if size.present_area_m2 is None:
        return _length(size.present_length_m or 0.0)
    return f"{number(size.present_area_m2, 3)} m²"


def _length(metres: float) -> str:
    return f"{number(in_unit(metres, 'mm'), 3)} mm"


def _size(trial: AreaTrial) -> str:
    return trial.size if trial.area_m2 is None else f"{trial.size} with {number(trial.area_m2, 3)} m²"


def pump_document(size: PumpSize) -> dict[str, object]:
    """Return the pump as numbers, text, lists and dictionaries.

    Parameters
    ----------
    size : PumpSize
        The answer.

    Returns
    -------
    dict
        Ready for JSON: the unit stands in the key.
    """
    return {
        **_head(size),
        "wanted_flow_l_per_h": size.wanted_flow_l_per_h,
        "shortest_run_days": size.shortest_run_days,
        "known_by": size.known_by,
        "factor": size.factor,
        "pump_curve": {"flow_l_per_h": list(size.curve_l_per_h), "head_m": list(size.curve_m)},
        "clean_flow_l_per_h": size.clean_flow_l_per_h,
        "due_flow_l_per_h": size.due_flow_l_per_h,
        "days_to_first_service": size.days_to_first_service,
        "governed_by": size.governed_by,
        "present_pump_suffices": size.present_suffices,
        "left_aside": list(size.left_aside),
        "sizes": [asdict(trial) for trial in size.sizes],
        "notes": _pump_notes(size),
    }


def area_document(size: AreaSize) -> dict[str, object]:
    """Return the area as numbers, text, lists and dictionaries.

    Parameters
    ----------
    size : AreaSize
        The answer.

    Returns
    -------
    dict
        Ready for JSON: the unit stands in the key, ``None`` where there is no figure.
    """
    return {
        **_head(size),
        "element": size.element,
        "kind": size.kind,
        "housings_in_parallel": size.housings_in_parallel,
        "wanted_days": size.wanted_days,
        "present_days": size.present_days,
        "factor": size.factor,
        "area_m2": size.area_m2,
        "present_area_m2": size.present_area_m2,
        "length_m": size.length_m,
        "present_length_m": size.present_length_m,
        "governed_by": size.governed_by,
        "left_aside": list(size.left_aside),
        "fits_present_size": size.fits,
        "most_area_in_present_size_m2": size.most_area_m2,
        "area_in_present_size_m2": size.area_in_this_size_m2,
        "longest_in_present_size_days": size.longest_in_this_size_days,
        "sizes": [asdict(trial) for trial in size.sizes],
        "notes": _area_notes(size),
    }


def no_answer(study: str, option: str, why: str) -> dict[str, object]:
    """Return the document of a question that physics gives no answer to.

    Parameters
    ----------
    study, option : str
        Name of the study, id of the option.
    why : str
        Why there is none.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {"format": FORMAT, "study": study, "option": option, "factor": None, "why_not": why}


def _head(size: PumpSize | AreaSize) -> dict[str, object]:
    return {"format": FORMAT, "study": size.study.name, "option": size.option, "name": size.name, "pump": size.pump}
