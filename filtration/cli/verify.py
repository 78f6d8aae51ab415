"""The command that recomputes the published checks. Everything heavy is imported when it is needed."""

import typer

from filtration.cli import common


def recompute(*, as_json: common.AsJson = False) -> None:
    """Recompute every published check: computed, published, difference, tolerance, source; exit 1 if one fails."""
    from filtration.present import console, documents
    from filtration.validation.published import verify

    with common.progress() as told:
        found = verify(progress=told)
    common.put_out(found, documents.verify_document, console.print_checks, as_json=as_json)
    if found.failed:
        raise typer.Exit(1)
