"""The commands. Everything heavy is imported when a command needs it."""

import os
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from filtration import __version__
from filtration.base.errors import InputError
from filtration.cli import check, forecast, log, plan, report, size, verify
from filtration.cli.common import (
    AsJson,
    Draws,
    LogbookFile,
    PriorFiles,
    Seed,
    StudyFile,
    Workers,
    believed,
    print_json,
    prior_of,
    processes,
    progress,
    readings_of,
    tell,
)

app = typer.Typer(
    name="filtration",
    help="How long a filter cartridge keeps a small cold tub clear, how often to rinse it, what a year of it costs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(log.app, name="log")
app.command()(forecast.forecast)
app.command()(plan.plan)
app.command()(report.report)
app.command()(size.size)
app.command()(check.check)
app.command()(check.schema)
app.command()(verify.verify)


def _version(wanted: bool) -> None:  # noqa: FBT001 - typer calls it with the flag's value
    if wanted:
        typer.echo(f"filtration {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Take the options that stand before a command; --version has done its work by now."""
    del version


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.", show_default=False)],
    *,
    demo: Annotated[
        str | None, typer.Option("--demo", metavar="NAME", help="Start from a demo tub: freezer, barrel or quay.")
    ] = None,
) -> None:
    """Write a study file to fill in; never over a file that is there."""
    from filtration.base.places import demo_file, template_file
    from filtration.base.whole_file import write_whole

    write_whole(file, (demo_file(demo) if demo else template_file()).read_bytes())
    tell(f"Wrote {file}. Fill in what you know, then: filtration compare {file}")


@app.command()
def compare(
    study: StudyFile,
    *,
    as_json: AsJson = False,
    draws: Draws = 1024,
    seed: Seed = 0,
    workers: Workers = 1,
    readings: Annotated[
        str | None, typer.Option(metavar="FILE.csv", help="Rank with your readings: 'logbook', or a table (CSV).")
    ] = None,
    logbook: LogbookFile = None,
    prior: PriorFiles = None,
) -> None:
    """Rank every pump with every element: which to take, why, and how sure that is."""
    from filtration.answers.ranking import compare as rank
    from filtration.study.file import load_study

    read = load_study(study)
    if readings is not None or prior:
        read = believed(read, () if readings is None else readings_of(readings, logbook, read), prior_of(prior, read))
    with progress() as told, processes(workers) as executor:
        answer = rank(read, draws=draws, seed=seed, executor=executor, progress=told)
    if as_json:
        from filtration.present.documents import answer_document

        print_json(answer_document(answer))
    else:
        from filtration.present.console import print_answer

        print_answer(answer)


@app.command()
def fleet(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A folder of studies, or a table of tubs (CSV).")],
    *,
    template: Annotated[
        Path | None, typer.Option(metavar="STUDY", help="The study that the rows of a table override.")
    ] = None,
    as_json: AsJson = False,
    draws: Draws = 64,
    seed: Seed = 0,
    workers: Workers = 1,
) -> None:
    """Budget many tubs together: elements to order and money a year."""
    from filtration.plan.fleet import budget, read_fleet

    tubs = read_fleet(path, template)
    with progress() as told, processes(workers) as executor:
        answer = budget(tubs, draws=draws, seed=seed, executor=executor, progress=told)
    if as_json:
        from filtration.present.documents import fleet_document

        print_json(fleet_document(answer))
    else:
        from filtration.present.console import print_fleet

        print_fleet(answer)
    if answer.failed:
        raise InputError(*(fault for tub in answer.failed for fault in tub.faults))


@app.command("app")
def start(
    *,
    host: Annotated[str, typer.Option(help="Address to listen on; others than this machine's own let others in.")] = (
        "127.0.0.1"
    ),
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8501,
    no_logbook: Annotated[
        bool, typer.Option("--no-logbook", help="Keep no logbook: readings are uploaded and downloaded only.")
    ] = False,
) -> None:
    """Open the pages in a browser on this machine."""
    from filtration.cli.serve import serve

    serve(host, port, logbook=not no_logbook)


def main() -> NoReturn:
    """Run the command line; exit with 0 for an answer, 2 for wrong input, 1 for a fault of ours."""
    try:
        status = app(standalone_mode=False)
    except InputError as error:
        for fault in error.faults:
            tell(fault)
        raise SystemExit(2) from None
    except SystemExit as stopped:
        if not isinstance(stopped.__context__, BrokenPipeError):
            raise
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whoever reads has read enough, as in `compare … | head`
        raise SystemExit(0) from None
    except OSError as error:
        tell(f"The answer could not be written: {error.strerror or error}")
        raise SystemExit(1) from None
    except Exception as error:  # noqa: BLE001 - the last line of defence: one readable line instead of a traceback
        if hasattr(error, "show"):  # the words on the command line are wrong: the parser says how
            error.show()
            raise SystemExit(2) from None
        tell(f"Sorry, this is a fault of the program: {type(error).__name__}: {error}")
        raise SystemExit(1) from None
    raise SystemExit(status if isinstance(status, int) else 0)
