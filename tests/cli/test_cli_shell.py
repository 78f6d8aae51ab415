"""What all commands share: how an option is named, help, completion, width, and files that are none."""

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
import reference
from command import Done, run, write
from studies import SHORT
from typer.main import get_command
from typer.testing import CliRunner

from filtration.base.places import demo_file
from filtration.cli.commands import app
from filtration.present.console import print_table

COMMANDS = [name for name, _ in reference.walked(get_command(app), ())]
DAY = ("--today", "2027-03-01")


@pytest.fixture
def study(tmp_path: Path) -> str:
    return str(write(tmp_path, SHORT))


# ---- an option by its id or its name


@pytest.mark.parametrize("named", ["pleated-20", "Pleated 20", "pleated 20", "PLEATED-20", " Pleated  20 "])
def test_an_option_is_taken_by_id_or_name(study: str, named: str) -> None:
    size = ("size", study, "--flow", "21.1 L/min", "--json", "--option")
    plan = ("plan", study, *DAY, "--draws", "16", "--json", "--option")
    assert run(*size, named) == run(*size, "pleated-20")
    assert run(*plan, named) == run(*plan, "pleated-20")


def test_on_one_of_several_pumps(tmp_path: Path) -> None:
    words = ("size", str(write(tmp_path, demo_file("quay").read_bytes())), "--flow", "2000 L/h", "--json", "--option")
    told = run(*words, "pleated-20@Pond pump")
    assert told.returncode == 0
    assert run(*words, "pleated 20 on pond pump") == told
    assert "; the nearest is 'pleated-20@" in run(*words, "pleated-20").stderr


def test_the_logbook_keeps_the_id(study: str, tmp_path: Path) -> None:
    book = ("--logbook", str(tmp_path / "book.sqlite"))
    assert run("log", "add", study, "--replaced", "pleated 20", "--when", "2026-03-01", *book).returncode == 0
    assert "replaced pleated-20" in run("log", "list", study, *book).stdout
    wrong = run("log", "add", study, "--replaced", "Wound", *book)
    assert wrong.stderr == "log add, replace: no option has the id or name 'Wound'; there is only 'pleated-20'\n"


def test_a_study_says_what_is_in_use_by_name(tmp_path: Path) -> None:
    told = [
        run(
            "plan", str(write(tmp_path, f'{SHORT}[in_use]\noption = "{named}"\nsince = "2027-02-20"\n')), *DAY, "--json"
        )
        for named in ("pleated-20", "Pleated 20")
    ]
    assert told[0] == told[1]
    assert '"fitted_on": "2027-02-20"' in told[0].stdout


# ---- help and completion


@pytest.mark.parametrize("name", [(), *COMMANDS], ids=" ".join)
def test_h_is_help(name: Sequence[str]) -> None:
    short, long = (run(*name, word) for word in ("-h", "--help"))
    assert (short.returncode, short.stderr) == (0, "")
    assert short == long
    assert "-h" in short.stdout


@pytest.fixture
def completed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], list[str]]:
    """Return what a shell completes a line to, in a folder with a study or two."""
    (tmp_path / "tub.toml").write_text(SHORT)
    (tmp_path / "quay.toml").write_bytes(demo_file("quay").read_bytes())
    for other in ("tubs.csv", "a tub.toml"):
        (tmp_path / other).write_text("")
    (tmp_path / "wrong.toml").write_text("name = 3\n")
    monkeypatch.chdir(tmp_path)

    def of(line: str) -> list[str]:
        place = {"COMP_WORDS": line, "COMP_CWORD": str(len(line.split()) - (line[-1] != " "))}
        done = CliRunner().invoke(
            app, [], prog_name="filtration", env={"_FILTRATION_COMPLETE": "complete_bash", **place}
        )
        assert done.exit_code == 0
        return done.stdout.split("\n")[:-1] if done.stdout.strip() else []

    return of


def test_a_shell_completes_commands_and_options(completed: Callable[[str], list[str]]) -> None:
    assert completed("filtration com") == ["compare"]
    assert completed("filtration log a") == ["add"]
    assert completed("filtration plan tub.toml --op") == ["--option"]


def test_a_shell_completes_studies(completed: Callable[[str], list[str]], tmp_path: Path) -> None:
    assert completed("filtration compare ") == ["quay.toml", "tub.toml", "wrong.toml"]
    assert completed("filtration compare t") == ["tub.toml"]
    assert completed(f"filtration check {tmp_path}/q") == [f"{tmp_path}/quay.toml"]
    assert completed("filtration plan nowhere/t") == []


def test_a_shell_completes_the_options_of_the_study_on_the_line(completed: Callable[[str], list[str]]) -> None:
    for command, word in (
        ("plan", "--option"),
        ("report", "--option"),
        ("size", "--option"),
        ("log add", "--replaced"),
    ):
        assert completed(f"filtration {command} tub.toml {word} ") == ["pleated-20"]
        assert completed(f"filtration {command} tub.toml {word} pl") == ["pleated-20"]
        assert completed(f"filtration {command} tub.toml {word} w") == []
    assert r"pleated-20@Pond\ pump" in completed("filtration plan quay.toml --option pleated-20")
    assert completed("filtration log add quay.toml --fitted pleated-20") == [
        r"pleated-20@Pond\ pump",
        r"pleated-20@Dry\ pump",
    ]
    for none in ("wrong.toml", "none.toml", "."):
        assert completed(f"filtration plan {none} --option ") == []


# ---- width


@pytest.mark.parametrize("columns", ["", "40", "60", "80", "118", "200"])
def test_lines_keep_to_the_width_and_end_without_blanks(
    study: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    tubs = tmp_path / "tubs.csv"
    tubs.write_text("name,tub.uses_per_day\nNorth,6\nSouth,9\n")
    told = [
        run("compare", study, "--draws", "0"),
        run("plan", study, *DAY, "--draws", "16"),
        run("fleet", str(tubs), "--template", study, "--draws", "16"),
        run("verify"),
    ]
    for done in told:
        assert done.returncode == 0
        lines = done.stdout.splitlines()
        assert [line for line in lines if line != line.rstrip()] == []
        assert max(map(len, lines)) <= int(columns or 118)


def test_no_column_is_left_out_unsaid(study: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tubs = tmp_path / "tubs.csv"
    tubs.write_text("name,tub.uses_per_day\nNorth,6\n")

    def at(columns: int, *words: str) -> str:
        monkeypatch.setenv("COLUMNS", str(columns))
        return " ".join(run(*words, "--draws", "16").stdout.split())

    assert "Not shown" not in at(120, "compare", study, "--full")
    for columns in (80, 60):
        assert "Not shown at this width: clean flow L/h, " in at(columns, "compare", study, "--full")
    wide, narrow = (at(columns, "fleet", str(tubs), "--template", study) for columns in (118, 50))
    assert "North Pleated 20 " in wide
    assert "- North: option Pleated 20, cases of 20 " in narrow


# ---- files that are none

FILES = [
    "compare NONE", "check NONE", "forecast NONE", "plan NONE", "report NONE --to OUT.html", "log add NONE --rinsed",
    "log list NONE", "log undo NONE", "log export NONE OUT.csv", "log import NONE IN.csv", "log import STUDY NONE",
    "size NONE --option pleated-20 --flow 1300L/h", "compare STUDY --readings NONE", "forecast STUDY --readings NONE",
    "plan STUDY --readings NONE", "report STUDY --to OUT.html --readings NONE", "compare STUDY --prior NONE",
    "forecast STUDY --prior NONE",
]  # fmt: skip
FOLDERS = ["new OUT", "report STUDY --to OUT.html", "report STUDY --to OUT.csv --force", "log export STUDY OUT --force"]


@pytest.fixture
def given(study: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Done]:
    """Run a line in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILTRATION_LOGBOOK", "book.sqlite")
    (tmp_path / "IN.csv").write_text("name,tub.uses_per_day\nNorth,6\n")
    (tmp_path / "folder").mkdir()
    return lambda line, none="": run(*line.replace("STUDY", Path(study).name).replace("NONE", none).split())


@pytest.mark.parametrize(("none", "why"), [("folder", "is a folder, not a file"), ("no.toml", "there is no such file")])
@pytest.mark.parametrize("line", FILES)
def test_a_folder_and_a_missing_file_are_told(
    given: Callable[..., Done], tmp_path: Path, line: str, none: str, why: str
) -> None:
    before = sorted(tmp_path.rglob("*"))
    done = given(line, none)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.endswith(f"{none}: {why}\n")
    assert done.stderr.count("\n") == 1
    assert sorted(tmp_path.rglob("*")) == before


def test_no_fleet_and_no_logbook(given: Callable[..., Done]) -> None:
    for none, why in (("folder", "is a folder, not a file"), ("no.toml", "there is no such file")):
        assert given(f"fleet IN.csv --template {none}").stderr == f"IN.csv, line 2: {none}: {why}\n"
    assert given("fleet no.csv").stderr == "no.csv: there is no such file\n"
    assert given("fleet folder").stderr == "folder: holds no study; studies are files that end in .toml\n"
    assert given("log list STUDY --logbook folder").stderr.startswith("folder: is a folder, not a file")


@pytest.mark.parametrize("line", FOLDERS)
def test_a_folder_to_write_to_is_told(given: Callable[..., Done], tmp_path: Path, line: str) -> None:
    to = next(word for word in line.split() if word.startswith("OUT"))
    (tmp_path / to).mkdir()
    done = given(line)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{to}: is a folder, not a file; nothing was written\n"


def test_a_table_cuts_nothing_short(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Where headings of several words do not fit side by side, their figures stand in lines."""
    monkeypatch.setenv("COLUMNS", "40")
    print_table("Kinds", ["kind", "flow at the rinse", "cartridge-\nrelated cost"], [["spun", "1,260", "28"]])
    told = " ".join(capsys.readouterr().out.split())
    assert told == "Kinds - spun: flow at the rinse 1,260, cartridge-related cost 28"
