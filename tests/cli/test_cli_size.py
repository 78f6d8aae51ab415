"""The commands size, check and schema, run as a person runs them."""

import json
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from command import numbers_in, run, toml, write
from jsonschema import Draft202012Validator
from studies import EVERYTHING, FOAM, SHORT, WOUND, changed, demo_data, leaning, short

from filtration import compare
from filtration.answers.assumptions import RANGES, assumptions_of
from filtration.base.defaults import STUDY_DEFAULTS, UNKNOWNS
from filtration.base.places import demo_names
from filtration.present.words.check import hint
from filtration.study.file import study_from_dict
from filtration.study.tables import TABLES


def test_size_says_which_pump(tmp_path: Path) -> None:
    done = run("size", str(write(tmp_path, SHORT)), "--option", "pleated-20", "--flow", "21.1 L/min")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(
        "North tub\n\nTo keep 1,270 L/h at the rinse (what is left when it needs service), Pleated 20 needs a pump of "
    )
    assert "The present pump suffices" in done.stdout
    assert (
        done.stdout.index("Pumps tried") < done.stdout.index("- the present one, 2.40 m") < done.stdout.index("Notes")
    )


@pytest.mark.parametrize(
    ("flow", "told"),
    [
        ("4 m^3/h", "The present pump does not suffice: even with the cartridge new it gives 1,370 L/h."),
        ("1350 L/h", "is the least you accept."),
    ],
)
def test_size_says_what_the_present_pump_lacks(tmp_path: Path, flow: str, told: str) -> None:
    study = write(tmp_path, SHORT + '[needs]\nshortest_run = "10 day"\n')
    assert told in " ".join(run("size", str(study), "--option", "pleated-20", "--flow", flow).stdout.split())


def test_size_says_how_a_lift_test_is_scaled(tmp_path: Path) -> None:
    study = write(tmp_path, SHORT + '[measured]\nlift_test = [["0 m", "24 L/min"], ["1.2 m", "9 L/min"]]\n')
    text = " ".join(run("size", str(study), "--option", "pleated-20", "--flow", "1300 L/h").stdout.split())
    assert "a pump that would lift" in text
    assert "That flatters a larger pump" in text


def test_size_says_what_area(tmp_path: Path) -> None:
    study = write(tmp_path, SHORT)
    done = run("size", str(study), "--option", "pleated-20", "--interval", "25 day")
    text = " ".join(done.stdout.split())
    assert (done.returncode, done.stderr) == (0, "")
    assert text.startswith("North tub For a first run of 25 days, Pleated 20 needs ")
    assert "Left aside: needs.rinse_at_least_every = 14.0 days would end the run before." in text
    assert "Of the common sizes the smallest that lasts that long is 20 x 2.5 in with 1.00 m2" in text
    assert "- 5 x 2.5 in with 0.250 m2: " in text
    long = run("size", str(study), "--option", "pleated-20", "--interval", "90 day").stdout
    assert "None of the common sizes lasts that long" in " ".join(long.split())


def test_size_as_json(tmp_path: Path) -> None:
    """Units stand in the keys; every number is one JSON knows."""
    study = str(write(tmp_path, SHORT))
    pump = json.loads(
        run("size", study, "--option", "pleated-20", "--flow", "1300 L/h", "--json").stdout, parse_constant=pytest.fail
    )
    assert pump["wanted_flow_l_per_h"] == pytest.approx(1300.0)
    assert {"factor", "pump_curve", "clean_flow_l_per_h", "due_flow_l_per_h", "days_to_first_service"} <= set(pump)
    assert set(pump["pump_curve"]) == {"flow_l_per_h", "head_m"}
    assert pump["present_pump_suffices"] is (pump["factor"] <= 1.0)
    area = json.loads(
        run("size", study, "--option", "pleated-20", "--interval", "2 week", "--json").stdout,
        parse_constant=pytest.fail,
    )
    assert (area["wanted_days"], area["present_area_m2"], area["left_aside"]) == (14.0, 0.5, [])
    assert next(trial["size"] for trial in area["sizes"]) == "5 x 2.5 in"
    assert all(abs(number) < 1e12 for number in numbers_in([pump, area]))


def test_no_answer_is_an_answer(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    words = ("size", study, "--option", "pleated-20", "--flow", "20000 L/h")
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("North tub\n\nNo answer: no pump up to 20 times the head and flow of 'pump' keeps ")
    document = json.loads(run(*words, "--json").stdout)
    assert (document["factor"], document["option"]) == (None, "pleated-20")
    assert document["why_not"].startswith("no pump up to 20 times")


WRONG = [
    (("--flow", "1.2 m"), "--flow: needs a flow such as '2400 L/h', got '1.2 m'\n"),
    (("--flow", "1300"), "--flow: needs a flow such as '2400 L/h', got '1300' without a unit\n"),
    (("--flow", "1 L/h"), "--flow: must be 10 L/h to 1000 m^3/h, got '1 L/h'\n"),
    (("--interval", "3 L"), "--interval: needs a time such as '30 day', got '3 L'\n"),
    (("--interval", "0 day"), "--interval: must be 0.1 day to 10 year, got '0 day'\n"),
    ((), "size: give either --flow, for the smallest pump, or --interval, for the area of the cartridge\n"),
    (
        ("--flow", "1300 L/h", "--interval", "x"),
        "size: give either --flow, for the smallest pump, or --interval, for the area of the cartridge, not both\n"
        "--interval: needs a time such as '30 day' (one plain number, a point before decimals, then the unit), "
        "got 'x'\n",
    ),
]


@pytest.mark.parametrize(("words", "told"), WRONG)
def test_wrong_questions(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    done = run("size", str(write(tmp_path, SHORT)), "--option", "pleated-20", *words, "--json")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", told)


def test_unknown_options_and_files(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    done = run("size", study, "--option", "Pleated 2", "--flow", "1300 L/h")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "option: no option has the id or name 'Pleated 2'; the nearest is 'pleated-20'\n"
    assert run("size", study, "--flow", "1300 L/h").returncode == 2
    assert "there is no such file" in run("size", "none.toml", "--option", "a", "--flow", "1300 L/h").stderr


def test_of_several_pumps_one_is_named(tmp_path: Path) -> None:
    study = tmp_path / "tub.toml"
    run("new", str(study), "--demo", "quay")
    done = run("size", str(study), "--option", "pleated-20", "--flow", "2000 L/h")
    assert "the nearest is 'pleated-20@" in done.stderr
    done = run("size", str(study), "--option", "pleated-20@Pond pump", "--flow", "2000 L/h")
    assert "Pleated 20 on Pond pump needs a pump whose curve runs from " in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    "words", [("size", "--option", "pleated-20", "--interval", "25 day"), ("check",), ("schema",)], ids=lambda w: w[0]
)
def test_commands_survive_an_ascii_terminal(tmp_path: Path, words: tuple[str, ...]) -> None:
    study = [str(write(tmp_path, SHORT.replace("North tub", "Tub n\u00b0 \U0001f9ca")))] if words != ("schema",) else []
    done = run(words[0], *study, *words[1:], encoding="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()


def test_check_tells_all_faults(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT.replace('"420 L"', '"3 m"').replace("bore", "boar")))
    done = run("check", study)
    assert (done.returncode, done.stdout) == (2, "")
    faults = done.stderr.splitlines()
    assert faults == run("compare", study).stderr.splitlines()
    assert len(faults) == 3
    as_json = run("check", study, "--json")
    assert (as_json.returncode, as_json.stderr) == (2, done.stderr)
    assert json.loads(as_json.stdout) == {"format": 1, "faults": faults}


def test_check_tells_assumptions_the_most_telling_first(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    done = run("check", study)
    text = " ".join(done.stdout.split())
    assert (done.returncode, done.stderr) == (0, "")
    assert text.startswith("North tub No faults. It leans on ")
    assert "To find out: count the barbed ends." in text
    assert "Each is moved alone" in text
    document = json.loads(run("check", study, "--json").stdout, parse_constant=pytest.fail)
    assert document["faults"] == []
    told = [each["assumed"] for each in document["assumptions"] if each["of"] == "study"]
    assert sorted(told) == sorted(map(str, study_from_dict(short()).assumed))
    assert {each["key"] for each in document["assumptions"] if each["of"] == "model"} == {each.key for each in UNKNOWNS}
    influence = [each["influence"] for each in document["assumptions"]]
    assert influence == sorted(influence, reverse=True)
    assert all(0.0 <= each <= 1.0 for each in influence)


MOVED = [
    ("needs.rinse_at_least_every", "11.2 day"),
    ("elements.area", "0.4 m^2"),
    ("tub.feet", "from the garden"),
    ("plumbing.hose_barbs", 0),
    ("prices.own_time_per_hour", 15),
    ("cooling.cop", 1.2),
    ("tub.water_change_every", "4.96 day"),
    ("options.housing_price", 42),
]


def test_a_move_is_what_compare_says_of_the_study_with_it() -> None:
    """The walk over draws meets the central one within about half a per cent; rinses are kept in one, not the other."""
    found = {each.key: each for each in leaning(short()).assumptions}
    for key, value in MOVED:
        table, name = key.split(".")
        data: dict[str, Any] = short()
        if table == "elements":
            data["elements"][0][name] = value
        elif table == "options":
            data["options"] = [{"name": "Pleated 20", "stages": ["Pleated 20"], name: value}]
        else:
            data[table] = {**data.get(table, {}), name: value}
        there = compare(study_from_dict(data)).options[0]
        at = found[key].tried.index(str(value))
        assert found[key].days[at] == pytest.approx(there.days_to_first_service, rel=0.02), key
        assert found[key].cost[at] == pytest.approx(there.cost_per_year.total, rel=0.01), key


def test_what_one_moves_is_a_default_of_the_option_alone() -> None:
    """What the best option does not lean on moves nothing; each element of a train moves by its own default."""
    elements = [{**WOUND, "rating": "20 um", "price": 6}, short()["elements"][0], {**FOAM, "price": 9}]
    train = {"name": "Train", "stages": ["Foam 20 ppi", "Pleated 20"]}
    data = changed({"elements": elements, "options": [train, {"name": "Wound", "stages": ["Wound 5"]}]})
    found = assumptions_of({**data, "needs": {"rinse_at_least_every": "never", "discard_after": "120 day"}})
    assert found.option.id == "train"
    recovery = {each.line: each for each in found.assumptions if each.key == "elements.rinse_recovery"}
    assert set(recovery) == {
        "elements.rinse_recovery = 0.9 (Pleated 20)",
        "elements.rinse_recovery = 0.95 (Foam 20 ppi)",
    }
    (area,) = (each for each in found.assumptions if each.key == "elements.area")
    assert area.tried == ("0.4 m^2", "0.6 m^2")
    smaller, larger = area.days
    assert smaller is not None
    assert larger is not None
    assert smaller < larger


def test_a_name_in_quotes_is_no_value() -> None:
    """An element called so after its looks leans on a price of 0: it is moved to the other end of the range."""
    quoted = {**short()["elements"][0], "name": 'The "big" one', "price": None}
    found = assumptions_of(changed({"elements": [quoted, {**WOUND, "price": 6}]}))
    (price,) = (each for each in found.assumptions if each.key == "elements.price")
    assert price.line == 'elements.price = 0 (The "big" one)'
    assert price.tried == ("20",)


def test_a_tub_whose_pump_moves_no_water_is_told_what_would(tmp_path: Path) -> None:
    study = SHORT.replace('length = "3 m"', 'length = "3 m"\nstatic_lift = "4 m"')
    done = run("check", str(write(tmp_path, study)))
    assert done.returncode == 0
    assert "now too little flow even when new" in " ".join(done.stdout.split())


@pytest.mark.parametrize("demo", demo_names())
def test_demos_go_through_check(tmp_path: Path, demo: str) -> None:
    study = tmp_path / "tub.toml"
    run("new", str(study), "--demo", demo)
    document = json.loads(run("check", str(study), "--json").stdout, parse_constant=pytest.fail)
    assert document["assumptions"][0]["influence"] > 0.0


def test_every_default_can_be_moved_and_found_out() -> None:
    """The ranges are values that a study file takes, on both sides of the default or from it; every key has a hint."""
    kept = {"tub.shared_with_public", "tub.surroundings", "pump.placed"}
    for key in STUDY_DEFAULTS:
        assert hint(key) or key in kept | {"currency"}, key
    assert all(hint(unknown.key) for unknown in UNKNOWNS)
    for key, values in RANGES.items():
        table, name = key.split(".")
        reader = TABLES[table].key(name)
        assert reader is not None
        low, high = (reader.read(value) for value in values)
        assert low < high, key
        if key in STUDY_DEFAULTS:
            assert low <= reader.read(STUDY_DEFAULTS[key]) <= high, key


def schema() -> dict[str, Any]:
    printed: dict[str, Any] = json.loads(run("schema").stdout)
    return printed


def as_json(value: Any) -> Any:
    """Return what stands in a TOML file as JSON has it: a day as text."""
    if isinstance(value, dict):
        return {key: as_json(each) for key, each in value.items()}
    if isinstance(value, list):
        return [as_json(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value


def test_schema_is_valid_and_good_studies_pass_it() -> None:
    printed = schema()
    assert printed["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(printed)
    validator = Draft202012Validator(printed)
    for data in (short(), tomllib.loads(EVERYTHING), *(demo_data(name) for name in demo_names())):
        assert list(validator.iter_errors(as_json(data))) == []


@pytest.mark.parametrize(
    "changes",
    [
        {"plumbing.boar": "19 mm"},
        {"tub.volume": 420},
        {"tub.feet": "dirty"},
        {"elements.0.kind": "sand"},
        {"tub.showered_share": 2},
        {"elements": []},
        {"tub.volume": None},
    ],
)
def test_schema_refuses_what_the_program_refuses(changes: dict[str, Any]) -> None:
    assert list(Draft202012Validator(schema()).iter_errors(changed(changes)))


def test_schema_has_a_description_and_the_default_of_every_key() -> None:
    printed = schema()
    for table, model in TABLES.items():
        properties = printed["$defs"][model.__name__]["properties"]
        assert set(properties) == set(model.model_fields)
        assert all(given["description"] for given in properties.values()), table
        for name, given in properties.items():
            key = f"{'pump' if table == 'pumps' else table}.{name}"
            assert given.get("default") == STUDY_DEFAULTS.get(key), key
            if "default" in given:
                assert Draft202012Validator(given).is_valid(given["default"])
    assert all(given["description"] for given in printed["properties"].values())


@pytest.mark.parametrize("command", ["size", "check", "schema"])
def test_new_commands_have_help(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert "Usage" in done.stdout
    assert command in run("--help").stdout


def test_bad_lists_are_told_by_check(tmp_path: Path) -> None:
    done = run("check", str(write(tmp_path, toml(changed({"elements": []})))))
    assert (done.returncode, done.stdout) == (2, "")
