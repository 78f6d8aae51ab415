"""The command for inverse questions. Everything heavy is imported when it is needed."""

from typing import Annotated

import typer

from filtration.base.errors import InputError, NoAnswerError
from filtration.cli.common import AsJson, StudyFile, print_json

_ONE = "size: give either --flow, for the smallest pump, or --interval, for the area of the element"


def size(
    study: StudyFile,
    *,
    option: Annotated[str, typer.Option(metavar="ID", help="The option, as pleated-20.", show_default=False)],
    flow: Annotated[
        str | None, typer.Option(metavar="Q", help='Flow to be kept when due, as "1300 L/h": the smallest pump.')
    ] = None,
    interval: Annotated[
        str | None, typer.Option(metavar="T", help='First run wished, as "30 day": the area of the element.')
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the smallest pump that keeps a flow, or the area that gives a wished interval."""
    from filtration.study.file import load_study

    faults: list[str] = []
    if (flow is None) == (interval is None):
        faults.append(f"{_ONE}, not both" if flow is not None else _ONE)
    flow_m3_s, days = _read("flow", flow, faults), _read("interval", interval, faults)
    if faults:
        raise InputError(*faults)
    read = load_study(study)
    from filtration.answers.sizing import area_for_interval, smallest_pump
    from filtration.present import documents
    from filtration.present.console import say, say_list
    from filtration.present.words import size as words

    parts: dict[str, list[str]] = {}
    try:
        if flow_m3_s is not None:
            pump = smallest_pump(read, option, flow_m3_s)
            document, headline, parts = documents.pump_document(pump), words.pump_headline(pump), words.pump_parts(pump)
        else:
            area = area_for_interval(read, option, days or 0.0)
            document, headline, parts = documents.area_document(area), words.area_headline(area), words.area_parts(area)
    except NoAnswerError as error:
        document, headline = documents.no_size_document(read.name, option, str(error)), f"No answer: {error}."
    if as_json:
        print_json(document)
        return
    say(f"{read.name}\n\n{headline}")
    for heading, lines in parts.items():
        say_list(heading, lines)


def _read(what: str, text: str | None, faults: list[str]) -> float | None:
    """Return what was asked for in the program's unit; a fault where it is no such quantity."""
    from filtration.study.keys import quantity

    if text is None:
        return None
    key = quantity("flow", "10 L/h", "1000 m^3/h") if what == "flow" else quantity("time", "0.1 day", "10 year")
    try:
        return float(str(key.read(text)))
    except InputError as error:
        faults += [f"--{what}: {fault}" for fault in error.faults]
        return None
