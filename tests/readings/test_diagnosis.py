"""What else is going on: causes told apart by where the readings lie, in simulated tubs with one fault each."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from owners import CENTRAL, at, owner, record, row, study_in_use, tub_of

from filtration import Forecast, forecast
from filtration.present.words import forecast as words
from filtration.readings.learning import doubts_of, findings, learn, nothing_known
from filtration.readings.reading import Reading, reading_of


def seen(day: float, litres_per_hour: float, more: str = "") -> Reading:
    return reading_of(at(day), "bucket", f"10 L in {36000.0 / litres_per_hour:.2f} s{more}", where="row")


def rinsed(day: float) -> Reading:
    return reading_of(at(day), "rinse", where="row")


def sound(
    runs: int = 2, shares: Sequence[float] = (0.02, 0.3, 0.6, 0.8, 0.95)
) -> tuple[list[Reading], list[float], float]:
    """Return the rows of a sound tub, rinsed when due, the flows of its next run at those shares, and its start."""
    rows: list[Reading] = []
    tub = tub_of(CENTRAL, "pleated-20")
    for _ in range(runs):
        start, length = tub.since, tub.next_due() - tub.since
        rows += [seen(start + share * length, 3.6e6 * tub.flow_m3_s(start + share * length)) for share in shares]
        tub.rinse(start + length)
        rows.append(rinsed(start + length))
    start, length = tub.since, tub.next_due() - tub.since
    flows = [3.6e6 * tub.flow_m3_s(start + share * length) for share in shares]
    return rows, flows, start


def looked(rows: Sequence[Reading], day: float) -> Forecast:
    return forecast(study_in_use(), rows, today=at(day), draws=64)


def kinds(found: Forecast) -> list[str]:
    return [remark.kind for remark in found.diagnosis]


def test_a_sound_tub_falls_slowly() -> None:
    rows, _, start = sound()
    found = looked(rows, start)
    assert kinds(found) == ["slow fall"]
    (told,) = words.diagnosis(found)
    assert told.startswith("The flow fell by ")
    assert told.endswith(
        "slowly, as a deposit does. In a minute: unplug, take the cartridge out, plug in and time a bucket; if that is "
        "unchanged, it is the deposit, and a rinse brings it back."
    )


def test_a_sudden_drop_is_air_or_hair() -> None:
    """A quarter of the flow gone from one reading to the next, early in a run."""
    rows, flows, start = sound()
    rows += [seen(start + 0.1, flows[0]), seen(start + 2.0, flows[0]), seen(start + 3.0, 0.75 * flows[0])]
    found = looked(rows, start + 3.1)
    assert kinds(found)[0] == "sudden drop"
    told = words.diagnosis(found)[0]
    assert "a sudden drop, " in told
    assert "kinked hose, or air or hair at the intake. In a minute: unplug the pump, clear the intake" in told


def test_low_straight_after_a_rinse() -> None:
    rows, flows, start = sound()
    found = looked([*rows, seen(start + 0.1, 0.75 * flows[0])], start + 0.2)
    assert kinds(found)[0] == "after service"
    told = words.diagnosis(found)[0]
    assert "straight after the rinse it read " in told
    assert "soak it (gloves on, nothing mixed, rinse well); if it is low too, it is the pump." in told


def test_low_straight_after_a_replacement() -> None:
    rows, flows, start = sound()
    rows += [reading_of(at(start + 1.0), "replace", where="row"), seen(start + 1.1, 0.75 * flows[0])]
    found = looked(rows, start + 1.2)
    assert kinds(found)[0] == "after service"
    assert "straight after the replacement it read " in words.diagnosis(found)[0]


def test_low_with_no_element_is_the_pump() -> None:
    rows, flows, start = sound()
    rows += [seen(start + 0.1, 0.7 * flows[0], " without element")]
    found = looked(rows, start + 0.2)
    assert kinds(found)[0] == "pump"
    told = words.diagnosis(found)[0]
    assert "with no cartridge in, the flow of " in told
    assert "the pump or a hose and not the filter. In a minute: unplug it, see that the intake is free" in told


def test_a_rinse_not_written_down() -> None:
    """The flow is back to that of the clean element in the middle of a run."""
    rows, flows, start = sound()
    with_rise = [seen(start + 0.1, flows[0]), seen(start + 12.0, flows[-1]), seen(start + 13.0, 1.02 * flows[0])]
    found = looked([*rows, *with_rise], start + 13.1)
    assert "rise" in kinds(found)
    told = words.diagnosis(found)[kinds(found).index("rise")]
    assert "with no service written down. In a minute: ask who rinsed, add the row" in told


@pytest.mark.parametrize("seed", range(100, 108))
def test_sound_owners_hear_of_no_fault(seed: int) -> None:
    """Readings with no more than their errors: at most the deposit is named (of these eight, all)."""
    kept = owner(seed)
    assert set(kinds(forecast(kept.study, kept.readings, today=kept.today, draws=64))) <= {"slow fall"}


# ---- where each begins ----


@pytest.mark.parametrize(
    ("kind", "off", "days", "found"),
    [
        ("flow", -2.9, 5.0, None),  # standard errors from what was to be expected, and days after a rinse
        ("flow", -3.1, 5.0, "sudden drop"),
        ("flow", -3.1, 2.9, "after service"),
        ("flow", -3.1, 3.1, "sudden drop"),
        ("flow", 3.1, 5.0, None),  # with no reading since the rinse that it could have risen from
        ("column", 3.1, 5.0, "column rises"),
        ("column", 2.9, 5.0, None),
        ("column", -3.1, 5.0, None),
        ("flow without element", -3.1, 5.0, "pump"),
        ("flow without element", 3.1, 5.0, None),
        ("column without element", 3.1, 5.0, "return"),
        ("column without element", -3.1, 5.0, None),
    ],
)
@pytest.mark.parametrize("by", ["left_over", "surprise"])
def test_what_a_reading_so_far_off_points_to(kind: str, off: float, days: float, found: str | None, by: str) -> None:
    """From three standard errors on, by the fit or by what came before; straight after a rinse within three days."""
    name, _, without = kind.partition(" ")
    value = f"{'1300 L/h' if name == 'flow' else '60 cm'} {without}".strip()
    seen = record([row(6.0, "rinse"), row(6.0 + days, name, value)], 30.0)
    nothing = {"left_over": np.zeros(1), "surprise": np.zeros(1)}
    learnt = replace(learn(seen, nothing_known()), **nothing | {by: np.array([off])})
    assert [each.kind for each in findings(seen, learnt)] == ([found] if found else [])


@pytest.mark.parametrize(("then", "told"), [(1334.0, []), (1326.0, [0.0529])])
def test_a_fall_is_told_from_a_twentieth_on(then: float, told: list[float]) -> None:
    """From the first flow after a service to the last, in days; of the stretch watched last."""
    rows = [row(1.0, "flow", "1400 L/h"), row(4.0, "flow", "1350 L/h"), row(9.0, "flow", f"{then:.0f} L/h")]
    seen = record(rows, 10.0)
    learnt = replace(learn(seen, nothing_known()), left_over=np.zeros(3), surprise=np.zeros(3))
    falls = [each.figures for each in findings(seen, learnt)]
    assert [each["fall"] for each in falls] == pytest.approx(told, abs=1e-4)
    assert [(each["days"], each["value"]) for each in falls] == [(pytest.approx(8.0), pytest.approx(then))] * len(told)


def test_a_reading_of_less_than_half_its_weight_is_in_doubt() -> None:
    seen = record([row(day, "flow", "1400 L/h") for day in (1.0, 1.5, 2.0)], 3.0)
    learnt = replace(learn(seen, nothing_known()), weights=np.array([0.51, 0.49, 1.0]))
    (doubt,) = doubts_of(seen, learnt)
    assert (doubt.reading.when, doubt.weight, doubt.why.kind) == (at(1.5), 0.49, "apart")
