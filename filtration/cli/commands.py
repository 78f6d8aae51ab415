"""The commands. Everything heavy is imported when a command needs it."""

import os
import re
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from filtration import __version__
from filtration.answers.decision import DRAWS
from filtration.base.errors import InputError
from filtration.cli import check, common, fleet, forecast, log, plan, report, savings, size, sweep, verify
from filtration.cli.common import taking

_HELP = "How long a filter cartridge keeps a small cold tub clear, how often to rinse it, what a year of it costs."
_NAME = re.compile(r"^(name = .*\n)", re.MULTILINE)
_INTERRUPTED = 130  # as the parser has it
_HOST = "Address to listen on; others than this machine's own let others in."
app = typer.Typer(
    name="filtration",
    help=_HELP,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.add_typer(log.app, name="log")
app.command("fleet")(fleet.budget_tubs)
app.command("forecast")(forecast.tell_next_service)
app.command("plan")(plan.plan_by_calendar)
app.command("report")(report.write_report)
app.command("size")(size.find_size)
app.command("savings")(savings.tell_savings)
app.command("sweep")(sweep.draw_curves)
app.command("check")(check.find_faults)
app.command("schema")(check.schema)
app.command("verify")(verify.recompute)


def _version(wanted: bool) -> None:  # noqa: FBT001 - typer calls it with the flag's value
    if wanted:
        typer.echo(f"filtration {__version__}")
        raise typer.Exit


_Version = Annotated[
    bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
]


@app.callback()
def _options(*, version: _Version = False) -> None:
    """Take the options that stand before a command; --version has done its work by now."""
    del version


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.", show_default=False)],
    *,
    demo: Annotated[str | None, taking("NAME", "Start from a demo tub: freezer, barrel or quay.")] = None,
    us: Annotated[bool, typer.Option("--us", help="In gallons, inches, degF and dollars.")] = False,
) -> None:
    """Write a study file to fill in, with a shop's list of filters; never over a file that is there."""
    from filtration.base.places import demo_file, template_text
    from filtration.base.whole_file import write_whole
    from filtration.study.text import new_id

    if demo and us:
        raise InputError("--us: a demo tub has units of its own; leave out one of --demo and --us")
    text = demo_file(demo).read_text(encoding="utf-8") if demo else template_text(us=us)
    write_whole(file, _NAME.sub(rf'\1id = "{new_id()}"\n', text, count=1).encode())
    common.tell(f"Wrote {file}. Fill in what you know, then: filtration compare {file}")


@app.command()
def compare(
    study: common.StudyFile,
    *,
    full: Annotated[
        bool, typer.Option("--full", help="Print everything: every option, figure, note and caution.")
    ] = False,
    cautions: Annotated[bool, typer.Option("--cautions", help="Print every caution too.")] = False,
    settings: common.Settings = None,
    as_json: common.AsJson = False,
    draws: common.Draws = DRAWS,
    seed: common.Seed = 0,
    workers: common.Workers = 1,
    readings: Annotated[str | None, taking("FILE.csv", "Rank with your readings: 'logbook', or a table (CSV).")] = None,
    logbook: common.LogbookFile = None,
    prior: common.PriorFiles = None,
) -> None:
    """Say which cartridge to take, how often to rinse it, what a year costs and how sure that is."""
    from filtration.answers.ranking import compare as rank
    from filtration.present import console

    read = common.load_study(study, settings or ())
    if readings is not None or prior:
        read = common.believed(
            read, common.readings_of(readings, logbook, read, study) or (), common.prior_of(prior, read)
        )
    with common.progress() as told, common.processes(workers) as executor:
        answer = rank(read, draws=draws, seed=seed, executor=executor, progress=told)
    if as_json:
        from filtration.present import documents

        common.print_json(documents.answer_document(answer))
        return
    (console.print_answer if full else console.print_short)(answer, settings or ())
    if cautions and not full:
        console.print_cautions(answer)


@app.command("app")
def start(
    study: Annotated[
        Path | None,
        typer.Argument(
            metavar="[STUDY]",
            help="A study file to open; saved after each change if the pages are served to this machine alone.",
            show_default=False,
        ),
    ] = None,
    *,
    host: Annotated[str, typer.Option(help=_HOST)] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8501,
    no_logbook: Annotated[
        bool, typer.Option("--no-logbook", help="Keep no logbook: readings are uploaded and downloaded only.")
    ] = False,
) -> None:
    """Open the pages in a browser on this machine."""
    from filtration.cli.serve import serve_pages

    serve_pages(host, port, logbook=not no_logbook, study=study)


def main() -> NoReturn:
    """Run the command line; exit with 0 for an answer, 2 for wrong input, 1 for a fault of ours."""
    try:
        status = app(standalone_mode=False)
    except InputError as error:
        _end(2, *error.faults)
    except SystemExit as stopped:
        if not isinstance(stopped.__context__, BrokenPipeError):
            raise
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whoever reads has read enough, as in `compare … | head`
        _end(0)
    except OSError as error:
        _end(1, f"The answer could not be written: {error.strerror or error}")
    except Exception as error:  # noqa: BLE001 - the last line of defence: one readable line instead of a traceback
        if type(error).__name__ == "Abort":  # what a parser, ours or that of the pages, makes of Ctrl-C
            raise KeyboardInterrupt from None
        if hasattr(error, "show"):  # the words on the command line are wrong: the parser says how
            error.show()
            _end(2)
        _end(1, f"Sorry, this is a fault of the program: {type(error).__name__}: {error}")
    if status == _INTERRUPTED:
        raise KeyboardInterrupt
    _end(status if isinstance(status, int) else 0)


def _end(status: int, *lines: str) -> NoReturn:
    for line in lines:
        common.tell(line)
    raise SystemExit(status) from None
