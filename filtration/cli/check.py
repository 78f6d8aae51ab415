"""The commands that check a study file. Everything heavy is imported when a command needs it."""

from filtration.base.errors import InputError
from filtration.cli.common import AsJson, StudyFile, print_json


def check(study: StudyFile, *, as_json: AsJson = False) -> None:
    """Find the faults of a study, or the assumptions it leans on, the most telling first."""
    from filtration.present import documents
    from filtration.present.words import check as words
    from filtration.study.file import load_study, load_tables

    try:
        load_study(study)
        from filtration.answers.assumptions import assumptions_of

        found = assumptions_of(load_tables(study))
    except InputError as error:
        if as_json:
            print_json(documents.faults_document(error.faults))
        raise
    if as_json:
        print_json(documents.check_document(found))
        return
    from filtration.present.console import say

    say(f"{found.study.name}\n\n{words.headline(found)}\n")
    for line in words.lines(found):
        say(f"- {line}")
    if quiet := words.quiet(found):
        say(f"\n{quiet}")
    say(f"\n{words.METHOD}")


def schema() -> None:
    """Print the JSON Schema of study files, for editors that complete keys."""
    from filtration.present.words.check import described
    from filtration.study.file import study_json_schema

    print_json(described(study_json_schema()))
