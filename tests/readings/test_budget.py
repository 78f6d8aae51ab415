"""What a small file may ask for: work and memory are bounded, and more is refused before any of it is done."""

import random
import time
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from owners import START, at, looked, record, row, study_in_use
from spent import spent
from studies import demo_data

from filtration import InputError, compare, forecast
from filtration.base.budget import MOST_CASES, MOST_STEPS
from filtration.base.waiting import waited_for
from filtration.loading import stage as stage_module
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import FleetRow
from filtration.present.words import forecast as words
from filtration.readings import learning
from filtration.readings.reading import Reading, reading_of
from filtration.study.file import study_from_dict
from filtration.study.values import medium_of


def metered(rows: int, a_day: int = 288) -> list[Reading]:
    """Return the log of a flow meter with an error of 3 %, of a filter rinsed every ten days."""
    draw, found = random.Random(1), list[Reading]()
    for number in range(rows):
        day, since = number / a_day, number % (10 * a_day)
        flow = 1400.0 * (1.0 - 0.02 * since / a_day) * (1.0 + 0.03 * draw.gauss(0.0, 1.0))
        found.append(row(day, "flow", f"{flow:.0f} L/h") if since else row(day, "rinse"))
    return found


def test_a_flow_meters_log_takes_seconds_and_little_memory() -> None:
    """Of 10,000 rows; ``bench_limits.py`` takes 100,000. A matrix of readings by readings alone would be 0.8 GB."""
    rows = metered(10_000)
    looked(rows[:9], 1.0)  # what is imported on the way is no part of it
    with spent() as took:
        found = looked(rows, 35.0)
    assert found.readings_used > 9_900
    assert len(found.record.observations) == 35
    assert took.seconds < 10.0
    assert took.megabytes < 150.0
    assert any("as 35" in note for note in words.notes(found))


def test_years_of_daily_readings_are_taken_together_over_longer() -> None:
    rows = [row(float(day), "flow", f"{1400 - day % 30} L/h") for day in range(1, 2000)]
    seen = record(rows, 2000.0).observations
    assert 250 <= len(seen) <= 500
    assert sum(each.rows for each in seen) == 1999
    assert max(each.rows for each in seen) == 8


def test_counted_days_stand_once_however_many_elements_were_fitted() -> None:
    """1,500 elements and as many counted days: no day is added to every element's."""
    rows = [each for day in range(1, 1500) for each in (row(day + 0.4, "replace"), row(day + 0.5, "uses", "5"))]
    lives = record(rows, 1500.0).lives
    assert len(lives) == 1500
    assert sum(len(life.dips) for life in lives) <= 2 * 1500
    assert lives[0].dips[0].start == pytest.approx(1.0)


def test_a_fit_that_would_follow_too_much_is_refused() -> None:
    rows = [each for day in range(1, 1100) for each in (row(day + 0.4, "rinse"), row(day + 0.5, "flow", "23 L/min"))]
    assert record(rows[-800:], 1100.0).steps < MOST_STEPS
    start = time.process_time()
    with pytest.raises(InputError, match=r"needs 3,298 readings, services .* the most is 2,000; leave out"):
        looked([*rows, *(row(day + 0.6, "rinse") for day in range(1, 1100))], 1100.0)
    assert time.process_time() - start < 5.0


def test_draws_of_many_steps_are_refused() -> None:
    rows = [row(day + 0.5, "rinse") for day in range(1, 600)]
    with pytest.raises(InputError, match=r"draws times readings.*the most is 4,194,304; take fewer draws"):
        forecast(study_in_use(), rows, today=at(600.0), draws=16384)


def on_pumps(number: int) -> dict[str, Any]:
    data = demo_data("freezer")
    pump = data.pop("pump")
    return data | {"pumps": [{**pump, "name": f"Pump {place}"} for place in range(number)]}


def test_draws_of_many_elements_are_refused() -> None:
    """Of one tub with 65,536 draws; as one of many that has so many elements that 2,048 are too much."""
    told, study = "draws of elements on all pumps, the most is 8,388,608; name fewer", study_from_dict(on_pumps(9))
    assert 65536 * study.elements_driven > MOST_CASES
    with pytest.raises(InputError, match=told):
        compare(study, draws=65536)
    many = [{"name": f"Option {number}", "stages": ["Pleated 20"]} for number in range(100)]
    (tub,) = budget([FleetRow(where="tub.toml", tables=on_pumps(50) | {"options": many})], draws=2048).tubs
    assert told in tub.faults[0]
    assert tub.faults[0].startswith("tub.toml: needs 10,240,000 ")


def test_a_fit_that_readings_do_not_agree_with_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """One and the same flow every day fits no filter: after so many points it stops wherever it is."""
    rows = [reading_of(START + timedelta(days=day), "flow", "20 L/min", where="") for day in range(1, 61)]
    monkeypatch.setattr(learning, "_MOST_TRIED", 5)
    looks = list[int]()
    learning.learn(record(rows, 70.0), learning.nothing_known(), lambda: looks.append(1))
    assert 3 <= len(looks) <= 6


def test_a_curve_far_too_steep_catches_all_above_its_rating_without_a_warning() -> None:
    """As a fit may try one, on its way to readings that no filter explains."""
    curve = medium_of(study_in_use().options[0].stages[0]).capture
    past = stage_module._log_past(curve, np.ones(1), np.array([1e4]))
    assert np.exp(past[-1, 0]) == 0.0
    assert np.exp(past[0, 0]) == 1.0


def test_work_ends_once_nobody_waits_for_it() -> None:
    told = list[str]()

    def tell(_share: float, what: str) -> None:
        told.append(what)
        if len(told) == 3:
            raise KeyError(what)  # as a page does whose visitor has gone

    with pytest.raises(KeyError):
        forecast(study_in_use(), [row(2.0, "flow", "22 L/min")], today=at(3.0), progress=tell)
    assert told == ["fitting your readings"] * 3


def test_a_fit_ends_at_any_reading_once_nobody_waits_for_it() -> None:
    def gone() -> None:
        raise KeyError

    with waited_for(gone), pytest.raises(KeyError):
        learning.learn(record([row(2.0, "flow", "22 L/min")], 3.0), learning.nothing_known())
