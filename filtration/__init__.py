"""How long a filter cartridge keeps a small cold tub clear, how often to rinse it, and what a year of it costs.

The whole of it reads like a sentence::

    from filtration import compare, load_study

    compare(load_study("tub.toml")).best.name
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filtration.answer import Comparison, OptionAnswer
    from filtration.errors import InputError, NoAnswerError
    from filtration.next_service import Forecast, forecast
    from filtration.ranking import compare
    from filtration.study import Study
    from filtration.study_file import load_study, study_from_text

__version__ = "0.1.0"
_HOMES = {
    "Comparison": "filtration.answer",
    "OptionAnswer": "filtration.answer",
    "Forecast": "filtration.next_service",
    "forecast": "filtration.next_service",
    "InputError": "filtration.errors",
    "NoAnswerError": "filtration.errors",
    "compare": "filtration.ranking",
    "Study": "filtration.study",
    "load_study": "filtration.study_file",
    "study_from_text": "filtration.study_file",
}
__all__ = [
    "Comparison",
    "Forecast",
    "InputError",
    "NoAnswerError",
    "OptionAnswer",
    "Study",
    "compare",
    "forecast",
    "load_study",
    "study_from_text",
]


def __getattr__(name: str) -> object:
    """Import what is asked for, so that the package itself loads at once."""
    if name not in _HOMES:
        msg = f"module 'filtration' has no attribute {name!r}"
        raise AttributeError(msg)
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*__all__, "__version__"])
