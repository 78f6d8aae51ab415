"""The commands that check a study file. Everything heavy is imported when a command needs it."""

from filtration.base.errors import InputError
from filtration.cli import common


def find_faults(study: common.StudyFile, *, as_json: common.AsJson = False) -> None:
    """Find the faults of a study, or the assumptions it leans on, the most telling first."""
    from filtration.present import console, documents
    from filtration.present.words import check as words
    from filtration.study.file import load_tables

    try:
        common.load_study(study)
        from filtration.answers.assumptions import assumptions_of

        found = assumptions_of(load_tables(study))
    except InputError as error:
        if as_json:
            common.print_json(documents.faults_document(error.faults))
        raise
    if as_json:
        common.print_json(documents.check_document(found))
        return
    console.say(f"{found.study.name}\n\n{words.headline(found)}\n", found.study)
    for line in words.lines(found):
        console.say(f"- {line}", found.study)
    if quiet := words.quiet(found):
        console.say(f"\n{quiet}", found.study)
    console.say(f"\n{words.METHOD}")


def schema() -> None:
    """Print the JSON Schema of study files, for editors that complete keys."""
    from filtration.present.words.check import described
    from filtration.study.file import study_json_schema

    common.print_json(described(study_json_schema()))
