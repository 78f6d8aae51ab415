"""The plan command, run as a person runs it."""

import json
from pathlib import Path

import pytest
from command import run
from studies import SHORT


@pytest.fixture
def study(tmp_path: Path) -> str:
    """Write the short study, with elements in use and a year's horizon."""
    file = tmp_path / "tub.toml"
    more = '[prices]\nhorizon = "1 year"\n[in_use]\noption = "pleated-20"\nsince = "2027-02-20"\n'
    file.write_text(SHORT.replace("[[elements]]", more + "[[elements]]"), encoding="utf-8")
    return str(file)


def test_words_come_first(study: str) -> None:
    """What, when and how much, then the year, the list, the comparison of kinds and the gap."""
    done = run("plan", study, "--today", "2027-03-01", "--draws", "16")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(
        "North tub\n\nPleated 20, from Mon 1 Mar 2027 to Tue 29 Feb 2028. The first service is"
    )
    headings = (
        "The first year",
        "Year by year",
        "Shopping for the first year",
        "Reusable or disposable",
        "From the long-run rate",
        "Notes",
        "At a service",
    )
    places = [done.stdout.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "Clear is not clean" in done.stdout


def test_the_document_adds_up(study: str) -> None:
    """Events from the first day on; amounts in whole cents that add up to the total and the years."""
    done = run("plan", study, "--option", "pleated-20", "--today", "2027-03-01", "--draws", "16", "--json")
    document = json.loads(done.stdout, parse_constant=pytest.fail)
    assert document["fitted_on"] == "2027-02-20"
    assert all(event["date"] >= "2027-03-01" for event in document["events"])
    assert all(event["earliest"] >= "2027-03-01" for event in document["events"])
    cents = sum(round(100 * event["amount"]) for event in document["events"])
    assert cents == round(100 * document["horizon_total"]["undiscounted"])
    assert cents == sum(round(100 * amount) for amount in document["sums_by_year"].values())
    assert cents == sum(round(100 * amount) for amount in document["sums_by_month"].values())
    *parts, average = (round(100 * amount) for amount in document["gap_per_year"].values())
    assert sum(parts) == average
    assert document["shopping"][0]["words"].startswith("Pleated 20: ")


def test_readings_move_the_days(study: str, tmp_path: Path) -> None:
    """A flow that has fallen far brings the next service nearer, and the gap says what that changes."""
    file = tmp_path / "readings.csv"
    file.write_text("when,kind,value,note\n2027-02-25,flow,1300 L/h,\n2027-02-28,flow,1270 L/h,\n", encoding="utf-8")
    words = ("plan", study, "--today", "2027-03-01", "--draws", "16", "--json")
    plain, moved = (json.loads(run(*words, *more).stdout) for more in ((), ("--readings", str(file))))

    def first(document: dict[str, list[dict[str, str]]]) -> str:
        return next(event["date"] for event in document["events"] if event["what"] in ("rinse", "replace"))

    assert first(moved) < first(plain)
    assert plain["gap_per_year"]["readings"] == 0.0
    assert moved["gap_per_year"]["readings"] != 0.0
    ahead = json.loads(run("forecast", study, "--today", "2027-03-01", "--readings", str(file), "--json").stdout)
    assert first(moved) == max(ahead["next_service"]["p50"], "2027-03-01")


def test_no_plan_is_an_answer(study: str) -> None:
    """Nothing meets the needs: said in words and in the document, exit 0."""
    file = Path(study)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("[prices]", "[needs]\nturnovers_per_hour = 50\n[prices]"), encoding="utf-8")
    done = run("plan", study)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == "North tub\n\nNo option meets your needs. Name one to plan with it all the same.\n"
    document = json.loads(run("plan", study, "--option", "pleated-20", "--json").stdout)
    assert document["events"] == []
    assert document["why_not"] == [
        "There is nothing to plan with Pleated 20: even clean it lacks the flow, or cannot work."
    ]


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (("--today", "1 March"), "--today: needs a day such as 2026-03-01, got '1 March'"),
        (
            ("--today", "2027-02-30"),
            "--today: needs a day such as 2026-03-01, got '2027-02-30', which is no day of the ",
        ),
        (("--today", "2027-02-19"), "[in_use] since: must lie in the 50 years before 2027-02-19, got 2027-02-20"),
        (("--today", "0001-01-01"), "today: must be 1900-01-01 to 2999-12-31, got 0001-01-01"),
        (("--option", "spun"), "option: no option has the id or name 'spun'; there is only 'pleated-20'"),
        (("--draws", "5"), "draws: must be a power of two from 16 to 4096, got 5"),
    ],
)
def test_faults(study: str, words: tuple[str, ...], fault: str) -> None:
    """One readable line, exit 2, nothing on standard output."""
    done = run("plan", study, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(fault)
    assert done.stderr.count("\n") == 1


def test_help() -> None:
    """The command is told of."""
    assert "plan" in run("--help").stdout
    assert "--today" in run("plan", "--help").stdout
