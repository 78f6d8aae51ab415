"""What tubs of a club share: the file, its faults, and the pooling against what theory says."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from owners import at, study_in_use

from filtration import InputError, forecast
from filtration.base.defaults import UNKNOWNS
from filtration.readings.reading import reading_of
from filtration.readings.shared_prior import SHARED, TUB_ALONE, checked, load_shared, pooled, share

LOAD = next(place for place, unknown in enumerate(UNKNOWNS) if unknown.key == "load_per_dip")
UNIT = np.log(1.8)  # spread of the dirt of a dip, docs/model.md section 12


def said(mean: float, sd: float, prior_mean: float = 0.0, prior_sd: float = 1.0) -> dict[str, Any]:
    """Return what a tub shares of its load, in standard deviations of the default."""
    figures = {"mean": mean, "sd": sd, "prior_mean": prior_mean, "prior_sd": prior_sd}
    factors = {"load_per_dip": {name: UNIT * value for name, value in figures.items()}}
    return {"what": "fitted factors", "format": 1, "factors": factors}


def load_of(*files: dict[str, Any]) -> tuple[float, float]:
    belief = pooled(files, {})
    return float(belief.mean[LOAD]), float(belief.covariance[LOAD, LOAD])


def test_no_file_is_the_default() -> None:
    belief = pooled([], {})
    assert np.array_equal(belief.mean, np.zeros(len(UNKNOWNS)))
    assert np.array_equal(belief.covariance, np.eye(len(UNKNOWNS)))


def test_a_tub_that_learnt_nothing_says_nothing() -> None:
    assert load_of(said(0.0, 1.0)) == (0.0, 1.0)
    assert load_of(said(0.4, 0.7, 0.4, 0.7)) == (0.0, 1.0)


def test_one_sharp_tub_by_hand() -> None:
    """It says y = 1 exactly. Half the variance lies between tubs: the club is at 1/2, a further tub varies by 3/4."""
    mean, variance = load_of(said(1.0, 1e-6))
    assert mean == pytest.approx(0.5, abs=1e-6)
    assert variance == pytest.approx(0.5 + 1.0 / (1.0 / 0.5 + 1.0 / 0.5), abs=1e-6)


def test_two_tubs_by_hand() -> None:
    """They say 0 and 2, variances 1/4: by moments t^2 = 2 - 1/4, mixed with two tubs of 1/2 to (2 * 0.5 + 1.75) / 3."""
    sharp = (1.0 / (1.0 + 1.0 / 0.25)) ** 0.5  # with a prior of 1 that is a message of variance 1/4
    mean, variance = load_of(said(0.0, sharp), said(2.0 * sharp**2 / 0.25, sharp))
    between = (2.0 * 0.5 + 1.75) / 3.0
    of_mean = 1.0 / (1.0 / (1.0 - between) + 2.0 / (between + 0.25))
    assert mean == pytest.approx(of_mean * 2.0 / (between + 0.25))
    assert variance == pytest.approx(between + of_mean)


def test_many_alike_tubs_agree_on_the_club() -> None:
    """A hundred tubs that all say 1 sharply: the mean is theirs, the spread between tubs falls with their number."""
    mean, variance = load_of(*[said(1.0, 1e-3)] * 100)
    assert mean == pytest.approx(1.0, abs=0.01)
    assert variance == pytest.approx(2.0 * 0.5 / 101.0, rel=0.02)


def test_a_club_recovers_its_mean_and_spread() -> None:
    """Three hundred tubs around 0.7 with a spread of 0.4, each known to 0.3 before its prior is mixed in."""
    draw = np.random.default_rng(3)
    files = []
    for tub in 0.7 + 0.4 * draw.standard_normal(300):
        says, error = tub + 0.3 * draw.standard_normal(), 0.3**2
        after = 1.0 / (1.0 + 1.0 / error)
        files.append(said(after * says / error, after**0.5))
    mean, variance = load_of(*files)
    assert mean == pytest.approx(0.7, abs=0.06)
    assert variance**0.5 == pytest.approx(0.4, abs=0.04)


def test_the_prior_is_not_counted_twice() -> None:
    """What the readings say is the same, whatever belief their tub started from."""
    error = 0.25
    alike = []
    for before_mean, before in ((0.0, 1.0), (0.8, 0.3)):
        after = 1.0 / (1.0 / before + 1.0 / error)
        mean = after * (before_mean / before + 1.3 / error)
        alike.append(load_of(said(mean, after**0.5, before_mean, before**0.5)))
    assert alike[0] == pytest.approx(alike[1])


@given(
    tubs=st.lists(st.tuples(st.floats(-4.0, 4.0), st.floats(0.01, 0.999)), max_size=12),
)
def test_never_wider_than_the_default(tubs: list[tuple[float, float]]) -> None:
    mean, variance = load_of(*(said(mean, sd) for mean, sd in tubs))
    assert 0.0 < variance <= 1.0 + 1e-12
    assert np.isfinite(mean)


def test_what_is_each_tubs_own_keeps_its_default() -> None:
    assert set(TUB_ALONE) == {"uses", "sum_k", "pump_exponent", "box_flow"}
    assert {unknown.key for unknown in SHARED} == {u.key for u in UNKNOWNS} - set(TUB_ALONE) - {"haze", "prices"}
    study = study_in_use()
    rows = [reading_of(at(day), "bucket", "10 L in 30 s", where="row") for day in (1.0, 2.0)]
    belief = pooled([share(forecast(study, rows, today=at(3.0), draws=64))], {})
    for place, unknown in enumerate(UNKNOWNS):
        if unknown not in SHARED:
            assert (belief.mean[place], belief.covariance[place, place]) == (0.0, 1.0)
    assert belief.covariance[LOAD, LOAD] < 1.0


def test_a_file_holds_factors_alone(tmp_path: Path) -> None:
    study = study_in_use()
    rows = [reading_of(at(1.0), "bucket", "10 L in 25 s", "by the quay", where="row")]
    given_ = share(forecast(study, rows, today=at(3.0), draws=64))
    text = json.dumps(given_, allow_nan=False)
    assert set(given_) == {"what", "format", "factors"}
    assert not any(word in text for word in ("2026", "Harbour", "quay", "Pleated", "pleated"))
    file = tmp_path / "tub.json"
    file.write_text(text, encoding="utf-8")
    assert load_shared(file) == given_


def test_a_study_that_knows_a_factor_keeps_it() -> None:
    belief = pooled([said(1.0, 0.1)], {"load_per_dip": 1.0})
    assert (belief.mean[LOAD], belief.covariance[LOAD, LOAD]) == (0.0, 1.0)


def test_a_narrower_study_reads_the_same_factor() -> None:
    """Means are of the factor's logarithm: one that is sure to be 1.8 is one and a half of a narrower spread's."""
    narrow = float(np.exp(UNIT / 1.5))
    mean = pooled([said(1.0, 1e-6)], {"load_per_dip": narrow}).mean[LOAD]
    assert mean == pytest.approx(1.5 * 0.5, abs=1e-5)


GOOD = said(0.5, 0.5)
FIGURES = {"mean": 0.1, "sd": 0.2, "prior_mean": 0.0, "prior_sd": 0.5}


def with_figures(**changes: object) -> dict[str, Any]:
    return {"what": "fitted factors", "format": 1, "factors": {"load_per_dip": FIGURES | changes}}


@pytest.mark.parametrize(
    ("given_", "fault"),
    [
        ([], "f.json: is no file of fitted factors; forecast --share writes one"),
        ({"what": "answer"}, "f.json: is no file of fitted factors; forecast --share writes one"),
        (GOOD | {"format": 2}, "f.json, format: must be 1, got 2"),
        (GOOD | {"format": True}, "f.json, format: must be 1, got true"),
        (GOOD | {"name": "North"}, "f.json: 'name' is unknown"),
        (GOOD | {"factors": 3}, "f.json, factors: needs a table of factors, got 3"),
        (GOOD | {"factors": {}}, "f.json, factors: needs at least one factor, got none"),
        (GOOD | {"factors": {"uses": FIGURES}}, "f.json, factors: 'uses' is none that tubs share"),
        (
            GOOD | {"factors": {"growth": {"mean": 1.0}}},
            "f.json, growth: needs mean, sd, prior_mean, prior_sd and nothing else, got a table",
        ),
        (with_figures(sd=-1.0), "f.json, load_per_dip sd: must be a number from 0 to 10, got -1.0"),
        (with_figures(sd=float("nan")), "f.json, load_per_dip sd: must be a number from 0 to 10, got nan"),
        (with_figures(mean=float("inf")), "f.json, load_per_dip mean: must be a number from -50 to 50, got inf"),
        (with_figures(prior_mean="0"), "f.json, load_per_dip prior_mean: must be a number from -50 to 50, got '0'"),
        (with_figures(prior_sd=True), "f.json, load_per_dip prior_sd: must be a number from 0 to 10, got true"),
    ],
)
def test_faults_of_a_file(given_: object, fault: str) -> None:
    with pytest.raises(InputError) as caught:
        checked(given_, "f.json")
    assert caught.value.faults == (fault,)


@pytest.mark.parametrize(
    ("data", "fault"),
    [
        (b"{", "shared.json: is no JSON; it should be a file that forecast --share wrote"),
        (b"[" * 50_000, "shared.json: is no JSON; it should be a file that forecast --share wrote"),
        (b" " * 100_001, "shared.json: "),
        (b"\xff", "shared.json: "),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, data: bytes, fault: str) -> None:
    file = tmp_path / "shared.json"
    file.write_bytes(data)
    with pytest.raises(InputError) as caught:
        load_shared(file)
    assert caught.value.faults[0].startswith(fault)


def test_too_many_files() -> None:
    with pytest.raises(InputError, match="--prior: at most 1000 files are pooled, got 1001"):
        pooled([GOOD] * 1001, {})
