"""Rows of a logbook: what was fitted when, and which of them are refused or count for little, each with its reason."""

import pytest
from owners import START, a_year, at, looked, record, row, study_in_use, timed
from studies import demo_data

from filtration import InputError, NoAnswerError, forecast
from filtration.base.draws import central_factors
from filtration.present.documents import forecast_document
from filtration.present.words import forecast as words
from filtration.readings.reading import reading_of
from filtration.study.file import study_from_dict


def test_nothing_fitted_is_said() -> None:
    with pytest.raises(InputError) as caught:
        forecast(study_in_use(None), [row(1.0, "bucket", "10 L in 25 s")], today=at(2.0))
    assert caught.value.faults == (
        "nothing says what is fitted: give [in_use] option and since in the study, or log a 'fitted' row that names "
        "the option (log add --fitted ID)",
    )


def test_a_replace_row_starts_the_first_run() -> None:
    found = looked([row(1.0, "replace", "pleated-10"), row(2.0, "bucket", "10 L in 25 s")], 3.0, study_in_use(None))
    assert found.option == "Pleated 10"
    assert found.fitted_on == at(1.0).date()
    assert found.readings_used == 1


def test_like_for_like_is_new_again_and_another_option_still_teaches() -> None:
    rows = [row(0.0, "bucket", "10 L in 24.2 s"), row(9.0, "bucket", "10 L in 27 s"), row(10.0, "replace")]
    again = record([*rows, row(10.1, "bucket", "10 L in 24.2 s")])
    assert [life.entry.option.id for life in again.lives] == ["pleated-20", "pleated-20"]
    predicted = again.predicted(central_factors())[:, 0]
    assert predicted[2] == pytest.approx(predicted[0], rel=1e-3)
    rows[2] = row(10.0, "replace", "pleated-50")
    other = looked(rows, 11.0)
    assert other.readings_used == 2
    assert other.dirt.p90 / other.dirt.p10 < other.dirt.prior_p90 / other.dirt.prior_p10
    assert words.notes(other) == [
        "Other cartridges were in use before Pleated 50: their readings count for what all have in common, such as the "
        "dirt that bathers bring and the pump."
    ]


def test_an_unknown_option_is_named() -> None:
    with pytest.raises(
        InputError, match=r"2026-01-02T00:00:00\+00:00, replace: no option has the id or name 'pleated-21'"
    ):
        record([row(1.0, "replace", "pleated-21")])


def test_first_replace_without_a_name() -> None:
    with pytest.raises(InputError, match="replace: names no option, and no earlier row or"):
        record([row(1.0, "replace")], study=study_in_use(None))


def test_of_several_pumps_one_must_be_named() -> None:
    data = demo_data("freezer")
    data["pumps"] = [data["pump"] | {"name": name} for name in ("Small", "Spare")]
    del data["pump"]
    data["in_use"] = {"option": "pleated-20", "since": START.date().isoformat()}
    with pytest.raises(InputError, match="must say which pump runs, as one of pleated-20@Small, pleated-20@Spare"):
        record([], study=study_from_dict(data))


def test_fitted_in_the_future() -> None:
    with pytest.raises(InputError, match=r"\[in_use\] since: lies in the future, got '2026-01-01' on 2025-12-30"):
        record([], -2.0)


def test_a_pump_that_cannot_lift() -> None:
    with pytest.raises(NoAnswerError, match="moves no water"):
        record([], study=study_in_use(plumbing={"static_lift": "3 m"}))


REFUSED = {
    "future": (row(40.0, "bucket", "10 L in 25 s"), "it lies in the future: today is Sat 31 Jan 2026"),
    "before": (
        row(-3.0, "bucket", "10 L in 25 s"),
        "it is from before Thu 1 Jan 2026, the first day on which it is known what was fitted",
    ),
    "rinse before": (
        row(-3.0, "rinse"),
        "it is from before Thu 1 Jan 2026, the first day on which it is known what was fitted",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals_name_the_reading_and_why(name: str) -> None:
    bad, why = REFUSED[name]
    found = looked([bad, row(2.0, "bucket", "10 L in 25 s")], 30.0)
    assert found.readings_used == 1
    assert [(each.reading, text) for each, (_, text) in zip(found.refused, words.refused(found), strict=True)] == [
        (bad, why)
    ]
    (document,) = forecast_document(found)["readings_refused"]  # type: ignore[misc]  # a document holds objects
    assert document["when"] == bad.when.isoformat()
    assert document["why"] == why


def test_an_hour_ahead_is_a_clock() -> None:
    assert record([row(30.04, "bucket", "10 L in 25 s")]).refused == ()


def test_more_than_the_pump_can_give() -> None:
    """The box says 2400 L/h at no head at all; 2400 through the loop cannot be, 1500 can."""
    found = looked([row(1.0, "flow", "2400 L/h"), row(1.1, "flow", "1500 L/h")], 2.0)
    (refused,) = words.refused(found)
    assert refused[0] == "Fri 2 Jan 2026 00:00 (+00:00), flow 2400 L/h"
    assert refused[1].startswith("2,400 L/h is more than pump and pipes can give without any cartridge, which is at ")
    assert found.readings_used == 1


def test_more_than_the_pump_can_press() -> None:
    """2.4 m of water at 4 degC are 23.5 kPa."""
    found = looked([row(1.0, "pressure", "30 kPa"), row(1.1, "pressure", "24 kPa")], 2.0)
    assert words.refused(found) == [
        (
            "Fri 2 Jan 2026 00:00 (+00:00), pressure 30 kPa",
            "30.0 kPa is more than the pump can press with no flow at all, which is 23.5 kPa",
        )
    ]


def test_rows_that_say_nothing_are_named() -> None:
    same = row(1.0, "bucket", "10 L in 25 s")
    rows = [same, same, row(2.1, "uses", "5"), row(2.2, "uses", "7"), row(3.0, "see-through", "3 m"), row(4.0, "water")]
    found = looked(rows, 5.0)
    assert [why for _, why in words.refused(found)] == [
        "the same row stands there twice; it counts once",
        "a later row counts the dips of that day anew",
    ]
    assert words.notes(found) == ["Kept, but no part of the forecast, as it says nothing of the flow: see-through."]
    spun = looked([row(2.0, "rinse")], 5.0, study_in_use("spun-20"))
    assert [why for _, why in words.refused(spun)] == [
        "Spun 20 cannot be rinsed clean, so that it counts as it was; log a replacement instead"
    ]
    assert spun.rinses_left is None
    assert spun.next_service.what == "replace"
    idle = looked([row(2.0, "uses", "4")], 5.0, study_in_use(tub={"uses_per_day": 0}))
    assert [why for _, why in words.refused(idle)] == [
        "the study says that nobody bathes, so that there is nothing to scale"
    ]


def test_a_flow_that_rises_with_no_service_counts_for_little() -> None:
    study, rows, today = a_year()
    rows = [each for each in rows if each.when <= at(40.0)]
    odd = reading_of(at(16.0), "bucket", timed(10.0, 1700.0), where="row")
    found = forecast(study, [*rows, odd], today=at(41.0), draws=256)
    without = forecast(study, rows, today=at(41.0), draws=256)
    (doubt,) = found.doubted
    assert doubt.reading == odd
    assert doubt.weight < 0.3
    (told,) = words.doubted(found)
    assert told[0] == "Sat 17 Jan 2026 00:00 (+00:00), bucket 10 L in 21.176 s"
    assert told[1].startswith("it counts for little: the flow rises from ")
    assert told[1].endswith("to 1,700 L/h with no service between; was a rinse not written down?")
    moved = abs(found.next_service.in_days[1] - without.next_service.in_days[1])
    assert moved < 0.5 * (without.next_service.in_days[2] - without.next_service.in_days[0])
    assert today > at(41.0)
