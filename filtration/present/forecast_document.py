"""A forecast as a machine-readable document."""

from dataclasses import asdict

from filtration.present.words import forecast as words
from filtration.readings.next_service import Forecast

FORMAT = 1
_PERCENT = ("p10", "p50", "p90")


def forecast_document(forecast: Forecast) -> dict[str, object]:
    """Return a forecast as numbers, text, lists and dictionaries.

    Parameters
    ----------
    forecast : Forecast
        The forecast.

    Returns
    -------
    dict
        Ready for JSON: the unit stands in the key, days are ISO 8601, ``None`` where there is no figure.
    """
    due = forecast.next_service
    return {
        "format": FORMAT,
        "study": forecast.study.name,
        "option": forecast.option,
        "pump": forecast.pump,
        "fitted_on": forecast.fitted_on.isoformat(),
        "today": forecast.today.isoformat(),
        "draws": forecast.draws,
        "seed": forecast.seed,
        "next_service": {
            "what": due.what,
            **{key: getattr(due, key).isoformat() for key in _PERCENT},
            "in_days": _named(due.in_days),
            "governed_by": due.governed_by,
            "chance_due_already": due.due_already,
        },
        "rinses_left": None if forecast.rinses_left is None else _named(forecast.rinses_left),
        "flow_today_l_per_h": _named(forecast.flow_today_l_per_h),
        "flow_when_due_l_per_h": forecast.wanted_l_per_h,
        "chance_new_element_lacks_flow": forecast.chance_clean_lacks,
        "dirt_a_day": asdict(forecast.dirt),
        "fitted": [asdict(each) for each in forecast.fitted],
        "readings_used": forecast.readings_used,
        "readings_refused": [
            {"when": each.reading.when.isoformat(), "what": what, "why": why}
            for each, (what, why) in zip(forecast.refused, words.refused(forecast), strict=True)
        ],
        "readings_doubted": [
            {"when": each.reading.when.isoformat(), "what": what, "why": why, "weight": each.weight}
            for each, (what, why) in zip(forecast.doubted, words.doubted(forecast), strict=True)
        ],
        "diagnosis": words.diagnosis(forecast),
        "measure_next": asdict(forecast.measure) if forecast.measure else None,
        "notes": words.notes(forecast),
        "cautions": words.cautions(forecast),
    }


def _named(values: tuple[float, float, float]) -> dict[str, float]:
    return dict(zip(_PERCENT, values, strict=True))
