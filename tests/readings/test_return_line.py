"""A clear tube or gauge before the housing: what it shows, with the element and without, and what readings of it teach.

What lies after the tee is worked out by hand with the loss coefficients of the handbooks and the library ``fluids``.
"""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from owners import CENTRAL, START, Tub, back_pa, column, looked, record, row, study_in_use, tub_of
from studies import demo_data

from filtration import Study, compare
from filtration.base.arrays import Array
from filtration.base.draws import central_factors, factors_of
from filtration.physics.plumbing import Plumbing
from filtration.physics.return_line import return_of, return_read
from filtration.physics.water import water_at
from filtration.present.words import forecast as words
from filtration.present.words.odds import sureness
from filtration.readings.fitted_runs import seen_runs
from filtration.readings.learning import learn, nothing_known
from filtration.readings.reading import Reading
from filtration.study.believed import with_belief
from filtration.study.file import study_from_dict

CM_PA = 98.0665  # a centimetre of water of 1000 kg/m3 at standard gravity
WATER = water_at(4.0)
PLEATED = "pleated-20"


def test_what_lies_after_the_tee_by_hand() -> None:
    """Housing 2.5, exit 1.0, half of two bends of 0.75 and two barbs of 1.5, half of 3 m of 19 mm hose; 1,400 L/h."""
    plumbing = study_in_use().plumbing
    assert plumbing is not None
    flow, area = 1.4 / 3600.0, np.pi / 4.0 * 0.019**2
    half_rho_v2 = 0.5 * 1000.0 * (flow / area) ** 2
    reynolds = 1000.0 * flow / area * 0.019 / 1.567e-3  # viscosity of water at 4 degC, IAPWS 2008
    blasius = 0.316 * reynolds**-0.25  # Blasius 1913, smooth pipe
    by_hand = (2.5 + 1.0 + 0.5 * (2 * 0.75 + 2 * 1.5) + blasius * 1.5 / 0.019) * half_rho_v2
    shown = float(return_of(plumbing, WATER, 1).pressure_pa(flow))
    assert shown == pytest.approx(by_hand, rel=0.01)
    assert shown == pytest.approx(back_pa(study_in_use(), PLEATED, flow), rel=0.01)
    train = float(return_of(plumbing, WATER, 2).pressure_pa(flow))
    assert train - shown == pytest.approx(2.5 * half_rho_v2, rel=1e-3)
    raised = return_of(replace(plumbing, static_lift_m=0.3), WATER, 1).pressure_pa(flow)
    assert float(raised) - shown == pytest.approx(0.3 * 1000.0 * 9.80665, rel=1e-3)


def test_fittings_go_with_the_square_and_a_smooth_hose_by_blasius() -> None:
    """Twice the flow: four times the loss of fittings; 2^1.75 times that of smooth hose (Blasius 1913)."""
    fittings = Plumbing(bore_m=0.019, length_m=0.0, elbows_90=4, hose_barbs=2)
    hose = Plumbing(bore_m=0.019, length_m=20.0, elbows_90=0, hose_barbs=0, other_k=0.5)
    for plumbing, power in ((fittings, 2.0), (hose, 1.75)):
        low, high = return_of(plumbing, WATER, 1).pressure_pa(np.array([3e-4, 6e-4]))
        assert np.log2(high / low) == pytest.approx(power, abs=0.02)
    low, high = return_read(5000.0, 4e-4, WATER).pressure_pa(np.array([2e-4, 4e-4]))
    assert (low, high) == (pytest.approx(1250.0), pytest.approx(5000.0))


def test_less_than_an_entry_is_no_gain() -> None:
    """A study that counts nothing but bends has none of its exit and housing after the tee, not less than none."""
    nothing = Plumbing(bore_m=0.019, length_m=0.0, elbows_90=0, hose_barbs=0, other_k=0.2)
    assert float(return_of(nothing, WATER, 1).pressure_pa(4e-4)) == 0.0


def test_a_tube_shows_element_and_return() -> None:
    """The new element takes a few cm, housing and hose most of a metre: 94 cm is no fault of a new element."""
    tub = tub_of(CENTRAL, PLEATED)
    assert tub.loss_pa(0.01) < 10.0 * CM_PA
    rows = [row(0.01, "column", "94 cm"), row(0.02, "column", "90 cm without element")]
    predicted = record(rows, 1.0).predicted(central_factors())[:, 0]
    assert predicted == pytest.approx([tub.tube_pa(0.01), tub.bare_tube_pa()], rel=0.01)
    found = looked([*rows[:1], row(0.03, "bucket", "10 L in 24.1 s")], 1.0)
    assert found.readings_used == 2
    assert (found.refused, found.doubted, found.diagnosis) == ((), (), ())


SPUN = "spun-20"
LOADED = CENTRAL | {"load_per_dip": 0.5, "cake_resistance": 0.5}


def watched(
    return_factor: float, scores: dict[str, float] = LOADED, *, errors: bool = False
) -> tuple[list[Reading], Tub, float]:
    """Return one column without element and six over a run of a tub, the tub, and the last day read."""
    tub, draw = tub_of(scores, SPUN, return_factor), Random(7)
    days = [share * tub.next_due() for share in (0.05, 0.2, 0.35, 0.5, 0.6, 0.7)]

    def seen(day: float, pressure_pa: float, more: str = "") -> Reading:
        if errors:
            return column(draw, day, pressure_pa, more)
        return row(day, "column", f"{pressure_pa / CM_PA:.2f} cm{more}")

    bare = seen(0.01, tub.bare_tube_pa(), " without element")
    return [bare, *(seen(day, tub.tube_pa(day)) for day in days)], tub, days[-1]


def taken(rows: list[Reading], day: float, draws: int = 512) -> tuple[Array, Array]:
    """Return what the draws after some readings have for the spun element, and for the way back without any [Pa]."""
    whole = record(rows, day, study_in_use(SPUN))
    scores, back = learn(whole, nothing_known()).drawn(draws, 0)
    in_use = whole.in_use(whole.lives[-1], factors_of(scores, {}), back)
    _, now = whole.state_now(in_use, day)
    return in_use.loss_pa(now, in_use.flow_m3_s(now)), in_use.return_pa(in_use.case.loop.bare_m3_s)


def within(values: Array) -> float:
    """Return the logarithm of 90 % over 10 % of some draws, in standard deviations of a normal distribution."""
    low, high = np.percentile(values, (10.0, 90.0))
    return float(np.log(high / low)) / 2.5631


@pytest.mark.parametrize("return_factor", [0.75, 1.0, 1.3])
def test_the_truth_comes_back_with_and_without_the_reading_without_element(return_factor: float) -> None:
    """Readings with their errors: the element's loss and the day due lie where the draws say, with and without it."""
    rows, tub, day = watched(return_factor, errors=True)
    for seen in (rows, rows[1:]):
        element, _ = taken(seen, day)
        low, high = np.percentile(element, (5.0, 95.0))
        assert low <= tub.loss_pa(day) <= high
        found = looked(seen, day, study_in_use(SPUN))
        assert found.next_service.in_days[0] <= tub.next_due() - day <= found.next_service.in_days[2]
        assert found.doubted == ()


def test_the_reading_without_element_takes_the_bias_off() -> None:
    """A hose that takes less and an element that takes more than assumed look alike, until one is read without it."""
    rows, tub, day = watched(0.7, CENTRAL | {"permeability": -1.5, "sum_k": -1.0})
    truth, off = tub.loss_pa(day), []
    for seen in (rows[1:], rows):
        element, _ = taken(seen, day)
        off.append(abs(float(np.log(np.median(element) / truth))))
    assert off[1] < 0.05
    assert off[0] > 3.0 * off[1]


def test_a_tube_never_read_without_element_counts_for_less() -> None:
    rows, _, day = watched(1.0)
    assert within(taken(rows, day)[0]) < 0.7 * within(taken(rows[1:], day)[0])


def test_many_columns_do_not_average_the_hose_out() -> None:
    """Forty on one day know the tube to 2 %/sqrt(40), but not what of it is the hose; one without element does."""
    rows, tub, day = watched(1.0)
    many = [row(day - 0.001 * n, "column", f"{tub.tube_pa(day) / CM_PA:.2f} cm") for n in range(40, 0, -1)]
    alone, told = (within(taken(seen, day)[1]) for seen in (many, [rows[0], *many]))
    height_cm = tub.bare_tube_pa() / CM_PA
    by_hand = float(np.hypot(np.hypot(0.02, 0.5 / height_cm), 0.01))  # 2 % and 5 mm of a tube, 1 % of the model
    assert told == pytest.approx(by_hand, rel=0.3)
    assert alone > 3.0 * told


def test_one_without_element_is_asked_for() -> None:
    """By the note, and as the next reading: once it is there, the tube alone is worth reading."""
    rows, _, day = watched(1.0)
    study = study_in_use(SPUN, needs={"turnovers_per_hour": 2})
    told, alone = looked(rows, day, study, 512), looked(rows[1:], day, study, 512)
    assert words.notes(told) == []
    (note,) = words.notes(alone)
    assert note.endswith("Unplug, take the cartridge out, plug in, read it once and log that as without element.")
    assert told.measure is not None
    assert told.measure.with_what in ("bucket", "clear tube")
    assert alone.measure is not None
    assert alone.measure.with_what != "clear tube"
    twice = replace(alone, measure=replace(alone.measure, with_what="clear tube without element", width_share=0.5))
    (asked,) = words.measure(twice)
    assert asked.startswith("Unplug, take the cartridge out, plug in and read the clear tube before the housing now.")


def test_before_any_reading_a_tube_is_read_twice() -> None:
    """A study alone: where a tube says most, it is to be read with the element out as well."""
    answer = compare(study_in_use(), draws=128)
    assert answer.odds is not None
    assert answer.odds.measure is not None
    assert answer.odds.measure.with_what in ("bucket", "clear tube with and without element")
    tube = replace(answer.odds.measure, with_what="clear tube with and without element", width_share=0.5)
    told = sureness(replace(answer, odds=replace(answer.odds, measure=tube)))
    assert any(
        "read a clear tube before the housing, once with the cartridge out too (unplug before " in line for line in told
    )


def lifted() -> Study:
    """Return the freezer tub known by a lift test alone: nothing is said of its hose."""
    data = demo_data("freezer")
    del data["plumbing"]
    data["measured"] = {"lift_test": [["0 m", "1600 L/h"], ["1 m", "1100 L/h"], ["2 m", "400 L/h"]]}
    data["in_use"] = {"option": PLEATED, "since": START.date().isoformat()}
    return study_from_dict(data)


def test_without_plumbing_the_reading_without_element_says_all() -> None:
    """Its loss goes with the square of the flow from that reading; without it a column cannot be told apart."""
    study = lifted()
    alone = looked([row(0.1, "column", "60 cm")], 1.0, study)
    assert alone.readings_used == 0
    ((which, why),) = words.refused(alone)
    assert which.endswith("column 60 cm")
    assert why.startswith("a tube or gauge before the housing also shows what the hose behind it takes")
    rows = [row(0.1, "column", "60 cm"), row(0.2, "pressure", "5 kPa without element"), row(0.3, "flow", "1550 L/h")]
    seen = record(rows, 1.0, study)
    assert seen.refused == ()
    tube, bare, flow = seen.predicted(central_factors())[:, 0]
    assert bare == pytest.approx(5000.0, rel=1e-3)
    used = seen.in_use(seen.lives[-1], central_factors())
    element = used.loss_pa(used.new, used.flow_m3_s(used.new))[0]
    assert tube == pytest.approx(element + 5000.0 * (flow / (1.6 / 3600.0)) ** 2, rel=0.02)
    assert compare(study, draws=0).option(PLEATED).clean_tube_kpa is None


def test_the_most_a_tube_can_show_is_the_pumps_whole_head() -> None:
    """2.4 m at no flow, however high the outlet; three standard errors above that are refused, in the unit written."""
    for study in (study_in_use(), study_in_use(plumbing={"static_lift": "0.3 m"})):
        found = looked(
            [row(0.1, "column", "270 cm"), row(0.2, "column", '110 "'), row(0.3, "column", "240 cm")], 1.0, study
        )
        assert [why for _, why in words.refused(found)] == [
            "270 cm is more than the pump can press with no flow at all, which is 240 cm",
            '110 " is more than the pump can press with no flow at all, which is 94.5 "',
        ]
        assert found.readings_used == 1


def test_a_tube_that_rises_is_no_drop() -> None:
    rows = [row(0.01, "column", "89 cm without element"), *(row(day, "column", "94 cm") for day in (0.1, 1.0, 2.0))]
    found = looked([*rows, row(2.5, "column", "160 cm")], 3.0)
    assert [each.kind for each in found.diagnosis] == ["column rises"]
    (told,) = words.diagnosis(found)
    assert "a sudden rise, the clear tube showed 160 cm where 9" in told
    assert " cm was to be expected" in told
    ((_, doubt),) = words.doubted(found)
    assert doubt.startswith("it counts for little: it says 160 cm, where the other readings and the model would have 9")
    assert " cm, and a reading such as this is off by about " in doubt
    psi = [replace(each, kind="pressure", value="1.34 psi") for each in rows[1:]]
    risen = replace(row(2.5, "pressure", "2.3 psi"))
    told = words.diagnosis(looked([*psi, risen], 3.0))[0]
    assert "the gauge showed 2.30 psi where 1.3" in told


def test_a_high_tube_without_element_is_the_hose() -> None:
    rows = [row(day, "column", "89 cm without element") for day in (0.1, 0.2, 0.3)]
    found = looked([*rows, row(2.0, "column", "150 cm without element")], 3.0)
    assert [each.kind for each in found.diagnosis] == ["return"]
    assert "it is the housing or the hose behind it and not the filter" in words.diagnosis(found)[0]


def test_the_answer_tells_the_tube_and_readings_move_it() -> None:
    """New, due and without element as the slow solver and ``fluids`` have them; half the hose's loss, half of that."""
    study = study_in_use()
    tub, option = tub_of(CENTRAL, PLEATED), compare(study, draws=0).option(PLEATED)
    due = tub.next_due()
    told = (option.clean_tube_kpa, option.due_tube_kpa, option.bare_tube_kpa)
    assert told == pytest.approx(
        [1e-3 * pa for pa in (tub.tube_pa(0.0), tub.tube_pa(due), tub.bare_tube_pa())], rel=0.01
    )
    assert option.due_tube_kpa < option.due_filter_loss_kpa + option.bare_tube_kpa  # type: ignore[operator]  # all told
    half = compare(with_belief(study, replace(nothing_known(), return_factor=0.5)), draws=0).option(PLEATED)
    assert half.bare_tube_kpa == pytest.approx(0.5 * option.bare_tube_kpa)  # type: ignore[operator]
    train = compare(study_in_use("foam-then-pleated-20"), draws=0).option("foam-then-pleated-20")
    without_foam = train.clean_filter_loss_kpa + train.bare_tube_kpa  # type: ignore[operator]
    assert train.clean_tube_kpa < without_foam  # type: ignore[operator]


def test_the_picture_shows_what_the_tube_does() -> None:
    rows, _, day = watched(1.0)
    found = looked(rows, day, study_in_use(SPUN))
    runs = seen_runs(found)
    shown = [each.value for each in runs.seen if each.what == "loss"]
    first, last = (run.tube_kpa[1] for run in (runs.runs[0], runs.runs[-1]))
    assert first[0] == pytest.approx(shown[0], rel=0.1)
    assert last[0] == pytest.approx(shown[-1], rel=0.1)
    assert [each.what for each in runs.seen].count("bare loss") == 1
