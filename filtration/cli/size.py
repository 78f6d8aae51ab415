"""The command for inverse questions. Everything heavy is imported when it is needed."""

from typing import Annotated

from filtration.base.errors import InputError, NoAnswerError, option_of
from filtration.cli import common
from filtration.cli.common import taking

_ONE = "size: give either --flow, for the smallest pump, or --interval, for the area of the cartridge"


def find_size(
    study: common.StudyFile,
    *,
    option: Annotated[str, taking("ID", "The option, by id or name.", common.begun_option)],
    flow: Annotated[str | None, taking("Q", 'Flow to be kept at the rinse, as "1300 L/h": the smallest pump.')] = None,
    interval: Annotated[str | None, taking("T", 'First run you want, as "30 day": the area of the cartridge.')] = None,
    settings: common.Settings = None,
    as_json: common.AsJson = False,
) -> None:
    """Find the smallest pump that keeps a flow, or the area that gives a wished interval."""
    from filtration.answers.sizing import area_for_interval, smallest_pump
    from filtration.base.units import USUAL_FLOW
    from filtration.present import console, documents
    from filtration.present.words import size as words
    from filtration.present.words.phrases import headed
    from filtration.study.keys import quantity

    keys = {
        "flow": quantity("flow", "10 L/h", "1000 m^3/h", usual=USUAL_FLOW),
        "interval": quantity("time", "0.1 day", "10 year"),
    }
    given = {name: text for name, text in (("flow", flow), ("interval", interval)) if text is not None}
    faults = [] if len(given) == 1 else [f"{_ONE}, not both" if given else _ONE]
    for name, text in given.items():
        with common.collecting(faults):
            value = common.read_option(name, text, keys[name])
    if faults:
        raise InputError(*faults)
    read = common.load_study(study, settings or ())
    option = option_of(read.names, option)
    try:
        size = smallest_pump(read, option, value) if flow is not None else area_for_interval(read, option, value)
        document, (headline, parts) = documents.size_document(size), words.told(size)
    except NoAnswerError as error:
        document, (headline, parts) = (
            documents.no_size_document(read.name, option, str(error)),
            (f"No answer: {error}.", {}),
        )
    if as_json:
        common.print_json(document)
        return
    console.say(f"{headed(read.name, settings or ())}\n\n{headline}", read)
    for heading, lines in parts.items():
        console.say_list(heading, lines, read)
