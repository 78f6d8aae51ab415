"""A forecast on a terminal."""

from collections.abc import Sequence

from filtration.next_service import Forecast
from filtration.present import forecast_words as words
from filtration.present.console import say


def print_forecast(forecast: Forecast) -> None:
    """Print a forecast in words.

    Parameters
    ----------
    forecast : Forecast
        The forecast.
    """
    say(f"{forecast.study.name}: {forecast.option}, new on {forecast.fitted_on.isoformat()}\n")
    say(words.headline(forecast))
    for line in words.figures(forecast):
        say(f"- {line}")
    _list("What the readings say of your tub", words.fitted(forecast))
    _list("Readings that do not count", [f"{what}: {why}." for what, why in words.refused(forecast)])
    _list("Readings in doubt", [f"{what}: {why}." for what, why in words.doubted(forecast)])
    _list("What is going on", words.diagnosis(forecast))
    _list("Measure this next", words.measure(forecast))
    _list("Notes", words.notes(forecast))
    _list("At the service", words.cautions(forecast))


def _list(heading: str, lines: Sequence[str]) -> None:
    if lines:
        say(f"\n{heading}")
    for line in lines:
        say(f"- {line}")
