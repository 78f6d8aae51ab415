"""What else is going on: causes told apart by where the readings lie, in simulated tubs with one fault each."""

from collections.abc import Sequence

import pytest
from owners import CENTRAL, at, owner, study_in_use, tub_of

from filtration import Forecast, forecast
from filtration.present.words import forecast as words
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
