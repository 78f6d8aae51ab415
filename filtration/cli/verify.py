"""The command that recomputes the published checks. Everything heavy is imported when it is needed."""

import typer

from filtration.cli.common import AsJson, print_json, progress


def verify(*, as_json: AsJson = False) -> None:
    """Recompute every published check: computed, published, difference, tolerance, source; exit 1 if one fails."""
    from filtration.validation.published import verify as recompute

    with progress() as told:
        found = recompute(progress=told)
    if as_json:
        from filtration.present.documents import verify_document

        print_json(verify_document(found))
    else:
        from filtration.present.console import print_checks

        print_checks(found)
    if found.failed:
        raise typer.Exit(1)
