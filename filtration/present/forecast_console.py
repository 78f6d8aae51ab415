"""A forecast on a terminal."""

from filtration.present.console import say, say_list
from filtration.present.words import forecast as words
from filtration.readings.next_service import Forecast


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
    say_list("What the readings say of your tub", words.fitted(forecast))
    say_list("Readings that do not count", [f"{what}: {why}." for what, why in words.refused(forecast)])
    say_list("Readings in doubt", [f"{what}: {why}." for what, why in words.doubted(forecast)])
    say_list("What is going on", words.diagnosis(forecast))
    say_list("Measure this next", words.measure(forecast))
    say_list("Notes", words.notes(forecast))
    say_list("At the service", words.cautions(forecast))
