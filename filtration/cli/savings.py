"""The command for what would save most. Everything heavy is imported when it is needed."""

from filtration.cli import common


def tell_savings(
    study: common.StudyFile,
    *,
    option: common.OptionId = None,
    settings: common.Settings = None,
    as_json: common.AsJson = False,
) -> None:
    """Say what would save most in a year beside the cartridge: pump hours, pump, water, size, a need eased a little."""
    from filtration.answers.cheaper import savings
    from filtration.answers.ranking import compare
    from filtration.present import console, documents

    read = common.load_study(study, settings or ())
    with common.progress() as told:
        found = savings(compare(read, progress=told), option)
    common.put_out(found, documents.savings_document, console.print_savings, as_json=as_json)
