"""The commands, run as a person runs them."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from command import numbers_in, run, toml, write
from studies import SHORT, WOUND, changed, demo_with, short

from filtration import __version__
from filtration.base.places import demo_names
from filtration.study.text import text_of_tables

LAZY = {"numpy", "scipy", "pandas", "pint", "pydantic", "altair", "streamlit", "chemicals", "fluids"}


def test_help_loads_nothing_heavy() -> None:
    """Help answers before anything heavy is imported."""
    code = (
        "import sys\nfrom filtration.cli.commands import main\nsys.argv = ['filtration', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\nprint(sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.rsplit("[", 1)[1].replace("'", "").replace("]", "").replace(",", " ").split())
    assert not LAZY & loaded
    assert "filtration.cli.commands" in loaded
    assert all(command in done.stdout for command in ("compare", "new", "app"))


def test_an_answer_loads_nothing_that_it_does_not_need(tmp_path: Path) -> None:
    """What draws, writes files or serves pages is not imported for an answer in the terminal."""
    code = (
        "import sys\nfrom filtration.cli.commands import main\n"
        f"sys.argv = ['filtration', 'compare', {str(write(tmp_path, SHORT))!r}, '--draws', '0']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\nprint(sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.rsplit("[", 1)[1].replace("'", "").replace("]", "").replace(",", " ").split())
    assert "filtration.answers.ranking" in loaded
    assert not {"altair", "pandas", "streamlit", "icalendar", "xlsxwriter"} & loaded


def test_version() -> None:
    assert run("--version").stdout == f"filtration {__version__}\n"


@pytest.mark.parametrize("command", ["compare", "new", "app"])
def test_every_command_has_help(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert "Usage" in done.stdout


def test_compare_says_first_what_to_take(tmp_path: Path) -> None:
    """The short study of the contract is enough for an answer, and words come before figures."""
    done = run("compare", str(write(tmp_path, SHORT)), "--draws", "0", "--full")
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.startswith("North tub\n\nTake Pleated 20.")
    places = [done.stdout.index(part) for part in ("What decides", "Options, best first", "Notes", "Before anyone")]
    assert places == sorted(places)
    assert "Clear is not clean" in done.stdout


@pytest.mark.parametrize("demo", demo_names())
def test_new_demo_goes_through_compare(tmp_path: Path, demo: str) -> None:
    study = tmp_path / "tub.toml"
    assert run("new", str(study), "--demo", demo).returncode == 0
    done = run("compare", str(study), "--json", "--draws", "0")
    assert done.returncode == 0
    document = json.loads(done.stdout)
    assert document["options"][0]["meets_needs"]
    assert len(document["options"]) >= 13


def test_new_template_goes_through_compare(tmp_path: Path) -> None:
    study = tmp_path / "tub.toml"
    done = run("new", str(study))
    assert done.returncode == 0
    assert done.stdout == ""
    assert run("compare", str(study), "--json", "--draws", "0").returncode == 0


def test_new_in_us_units_goes_through_compare(tmp_path: Path) -> None:
    study = tmp_path / "tub.toml"
    assert run("new", str(study), "--us").returncode == 0
    done = run("compare", str(study), "--json", "--draws", "0")
    assert done.returncode == 0
    document = json.loads(done.stdout)
    assert document["currency"] == "USD"
    assert document["options"][0]["meets_needs"]
    assert len(document["options"]) == 25


@pytest.mark.parametrize("words", [(), ("--us",), ("--demo", "quay")])
def test_new_never_overwrites(tmp_path: Path, words: tuple[str, ...]) -> None:
    study = write(tmp_path, "mine")
    done = run("new", str(study), *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{study}: there is a file already; nothing was written\n"
    assert study.read_text(encoding="utf-8") == "mine"


def test_new_over_a_folder(tmp_path: Path) -> None:
    done = run("new", str(tmp_path))
    assert (done.returncode, done.stderr) == (2, f"{tmp_path}: is a folder, not a file; nothing was written\n")


def test_a_demo_has_units_of_its_own(tmp_path: Path) -> None:
    done = run("new", str(tmp_path / "tub.toml"), "--demo", "quay", "--us")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "--us: a demo tub has units of its own; leave out one of --demo and --us\n"
    assert not list(tmp_path.iterdir())


def test_new_in_no_folder(tmp_path: Path) -> None:
    done = run("new", str(tmp_path / "none" / "tub.toml"))
    assert done.returncode == 2
    folder = tmp_path / "none"
    told = f"{folder / 'tub.toml'}: cannot be written (there is no folder {folder}); nothing was written\n"
    assert done.stderr == told
    assert not folder.exists()


def test_new_unknown_demo(tmp_path: Path) -> None:
    done = run("new", str(tmp_path / "tub.toml"), "--demo", "lake")
    assert (done.returncode, done.stderr) == (
        2,
        "there is no demo called 'lake'; there are barrel, freezer, quay\n",
    )
    assert not list(tmp_path.iterdir())


def test_document_is_the_contract(tmp_path: Path) -> None:
    """Every key the contract names is there; every number is one JSON knows."""
    done = run("compare", str(write(tmp_path, SHORT)), "--json", "--draws", "0")
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    assert list(document) == [
        "format",
        "study",
        "currency",
        "assumed",
        "litres_per_dip",
        "water_change_days",
        "water_change_rule_days",
        "water_changes_per_year",
        "advised",
        "cheapest",
        "equal_to_advised",
        "options",
        "draws",
        "seed",
        "chance_none_meets_needs",
        "chance_all_lack_flow",
        "chance_too_hazy",
        "chance_too_hazy_in_half_the_time",
        "worth_of_measuring_load_per_year",
        "warmth",
        "savings",
        "notes",
        "cautions",
    ]
    (option,) = document["options"]
    contract = {
        "id", "name", "pump", "housings_in_parallel", "meets_needs", "why_not", "clean_flow_l_per_h",
        "clean_turnovers_per_hour", "clean_filter_loss_kpa", "days_to_first_service", "flow_alone_days", "governed_by",
        "due_flow_l_per_h", "due_filter_loss_kpa", "deposit_when_due_g", "see_through_clean_m",
        "see_through_worst_m", "hours_to_clear_after_session", "services_per_year", "stages", "cost_per_year",
        "choice_cost_per_year", "energy_kwh_per_year", "events", "horizon_total",
    }  # fmt: skip
    assert contract <= set(option)
    stage = {
        "element",
        "service",
        "rinses_before_replacing",
        "life_days",
        "elements_per_year",
        "deposit_when_due_g",
    }
    assert stage <= set(option["stages"][0])
    assert set(option["events"][0]) == {"day", "what", "item", "count", "amount"}
    assert set(option["horizon_total"]) == {"undiscounted", "discounted"}
    assert (option["id"], option["pump"]) == ("pleated-20", "pump")
    assert "ranges" not in option
    assert all(abs(number) < 1e12 for number in numbers_in(document))


def test_several_pumps_stand_in_the_id(tmp_path: Path) -> None:
    study = tmp_path / "tub.toml"
    run("new", str(study), "--demo", "quay")
    ids = {
        option["id"] for option in json.loads(run("compare", str(study), "--json", "--draws", "0").stdout)["options"]
    }
    assert {"pleated-20@Pond pump", "pleated-20@Dry pump"} <= ids


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_output_survives_any_terminal(tmp_path: Path, encoding: str) -> None:
    study = write(tmp_path, SHORT.replace("North tub", "Tub n\u00b0 \U0001f9ca \u05d0"))
    done = run("compare", str(study), "--draws", "0", encoding=encoding)
    assert done.returncode == 0
    assert "Recommended  Pleated 20" in done.stdout


def test_a_process_of_its_own_survives_an_ascii_terminal(tmp_path: Path) -> None:
    study = write(tmp_path, SHORT.replace("North tub", "Tub n\u00b0 \U0001f9ca \u05d0"))
    done = subprocess.run(
        [sys.executable, "-m", "filtration", "compare", str(study), "--draws", "0"],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"Recommended  Pleated 20" in done.stdout
    assert done.stdout.isascii()


BAD: Sequence[tuple[str, str | bytes, str]] = [
    ("wrong dimension", SHORT.replace('"420 L"', '"3 m"'), "[tub] volume: needs a volume such as '420 L', got '3 m'"),
    ("odd number", SHORT.replace('"3 m"', '"2,5 m"'), "[plumbing] length: needs a length such as '3 m' (one plain"),
    ("missing key", SHORT.replace('bore = "19 mm"\n', ""), "[plumbing] bore: is missing"),
    ("unknown key", SHORT.replace("bore", "boar"), "boar"),
    ("negative", SHORT.replace('"420 L"', '"-420 L"'), "must be 1 L to 100 m^3, got '-420 L'"),
    ("not a number", SHORT.replace("= 6", "= nan"), "must be 0 to 5000 dips a day, got nan"),
    ("infinite", SHORT.replace("= 6", "= inf"), "must be 0 to 5000 dips a day, got inf"),
    ("not text", b'name = "\xff\xfe"', "UTF-8"),
    ("not TOML", "[tub]\nvolume = 420 L\n", "line 2"),
    ("deep nesting", "a = " + "[" * 900 + "]" * 900, "nested"),
    ("long number", f"uses = {'9' * 5000}", "characters"),
    ("too long", "#" + "x" * 10_000_000, "1 MB"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_bad_input(tmp_path: Path, text: str | bytes, told: str) -> None:
    """Exit 2, readable lines that name the file, nothing on standard output, nothing written."""
    study = write(tmp_path, text)
    done = run("compare", str(study), "--json")
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert all(line.startswith("study.toml") for line in done.stderr.splitlines())
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == [study]


LISTS = [
    ({"tub.volume": "1.200 L"}, "got '1.200 L', which may be read in two ways; write '1200 L' or '1.2 L'"),
    ({"units": "us"}, "units: is unknown; known here are format, name, id, currency, [tub]"),
    ({"elements": []}, "elements"),
    ({"elements": [short()["elements"][0]] * 2}, "'Pleated 20'"),
    ({"options": [{"name": "Odd", "stages": ["Pleated 21"]}]}, "'Pleated 21'"),
    ({"pump": {"power": "38 W", "curve": [["0 L/h", "2 m"], ["900 L/h", "2.1 m"]]}}, "every head must be less"),
    ({"pump": {"power": "38 W", "curve": [["900 L/h", "2 m"], ["0 L/h", "2.1 m"]]}}, "every flow must be more"),
]


@pytest.mark.parametrize(("changes", "told"), LISTS)
def test_bad_lists(tmp_path: Path, changes: dict[str, object], told: str) -> None:
    done = run("compare", str(write(tmp_path, toml(changed(changes)))))
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr


def test_a_folder_and_no_file(tmp_path: Path) -> None:
    for path, told in ((tmp_path, "is a folder, not a file"), (tmp_path / "none.toml", "there is no such file")):
        done = run("compare", str(path))
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr == f"{path.name}: {told}\n"


def test_impossible_makers_figure_is_the_owners_fault(tmp_path: Path) -> None:
    """A clean loss of a bar at a trickle is a million times what any such sheet could take."""
    loss = 'clean_loss = [["1 L/h", "1 bar"]]\n'
    done = run("compare", str(write(tmp_path, SHORT + loss)))
    assert done.returncode == 2
    assert "[[elements]] 'Pleated 20', clean_loss:" in done.stderr


@pytest.mark.parametrize("draws", ["63", "8", "131072", "-1"])
def test_odd_numbers_of_draws(tmp_path: Path, draws: str) -> None:
    done = run("compare", str(write(tmp_path, SHORT)), f"--draws={draws}")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"draws: must be 0 or a power of two from 16 to 65536, got {draws}\n"


def test_draws_bring_ranges_and_chances(tmp_path: Path) -> None:
    """The keys of the contract, the same bytes for the same seed, and others for another."""
    study = str(write(tmp_path, SHORT))
    done = run("compare", study, "--json", "--draws", "64", "--seed", "3")
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    (option,) = document["options"]
    assert {"days_to_first_service", "cost_per_year", "see_through_worst_m"} <= set(option["ranges"])
    assert all(low <= middle <= high for low, middle, high in option["ranges"].values())
    assert option["chance_of_being_best"] + document["chance_none_meets_needs"] == pytest.approx(1.0)
    assert {"unknown", "of", "total_index"} == set(document["drivers"][0])
    assert run("compare", study, "--json", "--draws", "64", "--seed", "3").stdout == done.stdout
    assert run("compare", study, "--json", "--draws", "64", "--seed", "4").stdout != done.stdout


def test_workers_change_nothing(tmp_path: Path) -> None:
    study = write(tmp_path, text_of_tables(demo_with("barrel", "Spun 20", "Pleated 20", "Foam then pleated 20")))
    words = ("compare", str(study), "--json", "--draws", "1024")
    assert run(*words, "--workers", "2").stdout == run(*words).stdout


def test_words_say_how_sure(tmp_path: Path) -> None:
    done = run("compare", str(write(tmp_path, SHORT)), "--draws", "256", "--full")
    assert "How sure\n- Pleated 20 meets your needs in all of the " in done.stdout
    assert " of 20 cases where any filter will do" in done.stdout
    assert "Measure this next: " in done.stdout


def test_a_key_set_otherwise_is_said_first(tmp_path: Path) -> None:
    """On compare, size, plan and forecast; an unknown key and a setting without a value are faults."""
    study, hours = str(write(tmp_path, SHORT)), ("--set", "pump.hours_per_day=12")
    plain, done = (run("compare", study, "--draws", "0", "--json", *more).stdout for more in ((), hours))
    assert json.loads(done)["options"][0]["energy_kwh_per_year"]["pumping"] == pytest.approx(
        0.5 * json.loads(plain)["options"][0]["energy_kwh_per_year"]["pumping"]
    )
    for words in (
        ("compare", study, "--draws", "0"),
        ("plan", study),
        ("size", study, "--option", "pleated-20", "--flow", "20 L/min"),
    ):
        assert "with pump.hours_per_day=12" in run(*words, *hours).stdout.splitlines()[0]
    for setting, told in (
        ("pump.hours=12", "with --set, [pump] hours: is unknown"),
        ("pump.hours_per_day", "needs a key and a value, as in pump.hours_per_day=8"),
    ):
        done_so = run("compare", study, "--set", setting)
        assert (done_so.returncode, done_so.stdout) == (2, "")
        assert told in done_so.stderr


def test_a_study_in_gallons_is_answered_in_them(tmp_path: Path) -> None:
    """Flows in gph, lengths in ft, temperatures in degF, in short and in full; the document keeps its units."""
    study = str(write(tmp_path, SHORT.replace("420 L", "110 gal")))
    for words in ((), ("--full",)):
        text = run("compare", study, "--draws", "0", *words).stdout
        assert " gph" in text
        assert not re.search(r"\d (L/h|m|°C)\b", text)


def test_wrong_words() -> None:
    for words in (("compare",), ("compress", "x"), ("app", "--port", "0")):
        done = run(*words)
        assert (done.returncode, done.stdout) == (2, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_full_disk_is_told(tmp_path: Path) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "filtration", "compare", str(write(tmp_path, SHORT)), "--json", "--draws", "0"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert "could not be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_wound_alone_is_replaced(tmp_path: Path) -> None:
    """A finer spun element chokes this pump; the words say on what it fails."""
    study = changed({"elements": [{**WOUND, "price": 5}, *short()["elements"]]})
    done = run("compare", str(write(tmp_path, toml(study))), "--draws", "0", "--full")
    assert "Wound 5: even clean it gives" in done.stdout


def test_a_reader_who_has_read_enough_is_no_fault(tmp_path: Path) -> None:
    """A pipe that closes early, as with head, ends the command in silence."""
    command = f"{sys.executable} -m filtration compare {write(tmp_path, SHORT)} --draws 0 --json | head -n 1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "{\n", "")


def test_cautions_follow_the_answer_where_they_are_asked_for(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    brief, told = run("compare", study).stdout, run("compare", study, "--cautions").stdout
    assert told.startswith(brief)
    added = " ".join(told.removeprefix(brief).split())
    assert added.startswith("Before anyone gets in")
    assert "does not disinfect" in added
    assert "Before anyone gets in" not in brief
