"""The command savings, run as a person runs it."""

import json
from pathlib import Path

import pytest
from command import numbers_in, run, write
from studies import SHORT, answered, demo_data

from filtration import savings
from filtration.base.places import demo_names
from filtration.present.words.savings import lines


@pytest.mark.parametrize("demo", demo_names())
def test_a_short_list_with_days_view_and_what_to_mind(tmp_path: Path, demo: str) -> None:
    study = tmp_path / "tub.toml"
    run("new", str(study), "--demo", demo)
    done = run("savings", str(study))
    assert (done.returncode, done.stderr) == (0, "")
    assert len([line for line in done.stdout.splitlines() if line]) <= 15
    told, found = " ".join(done.stdout.split()), savings(answered(demo_data(demo)))
    for line in lines(found):
        assert line in told
        assert all(part in line for part in ("EUR", "a year less", "to the first", "to see"))
    document = json.loads(run("savings", str(study), "--json").stdout, parse_constant=pytest.fail)
    assert [each["saves_per_year"] for each in document["savings"]] == [each.saves_per_year for each in found.changes]
    assert all(numbers_in(document))


def test_the_document_says_what_to_set(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    document = json.loads(run("savings", study, "--json").stdout)
    hours = document["savings"][0]
    assert (hours["key"], hours["from"], hours["to"]) == ("pump.hours_per_day", 24.0, 8)
    assert hours["settings"] == ["pump.hours_per_day=8"]
    assert hours["what"] == "pump 8 h a day instead of 24"
    assert hours["caution"] == (
        "a disinfectant must go round; standing water freezes in hoses; keep a timer dry, away from the tub, on an RCD "
        "(GFCI)"
    )
    now = {name: document[name] for name in ("cost_per_year", "days_to_first_service", "see_through_worst_m")}
    then = json.loads(run("savings", study, "--set", hours["settings"][0], "--json").stdout)
    assert then["cost_per_year"] == hours["cost_per_year"] == now["cost_per_year"] - hours["saves_per_year"]
    assert then["days_to_first_service"] == hours["days_to_first_service"] > now["days_to_first_service"]
    assert then["see_through_worst_m"] == hours["see_through_worst_m"] < now["see_through_worst_m"]


def test_nothing_to_save_on_is_an_answer(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    done = run("savings", study, "--set", "needs.turnovers_per_hour=50")
    assert (done.returncode, done.stderr) == (0, "")
    assert "No option meets your needs" in done.stdout
    document = json.loads(run("savings", study, "--set", "needs.turnovers_per_hour=50", "--json").stdout)
    assert (document["option"], document["savings"], document["together"]) == (None, [], None)


def test_wrong_keys_and_options_are_told(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    done = run("savings", study, "--set", "pump.hours=8")
    assert (done.returncode, done.stdout) == (2, "")
    assert "hours_per_day" in done.stderr
    done = run("savings", study, "--option", "pleated-2")
    assert (done.returncode, done.stdout) == (2, "")
    assert "the nearest is 'pleated-20'" in done.stderr
