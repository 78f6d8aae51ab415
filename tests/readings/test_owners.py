"""What simulated owners are held against: how sure the truth is of its own days."""

from dataclasses import replace

import pytest
import slow_solver
from owners import CENTRAL, SINGLE, data_in_use, scores_of, tub_of
from slow_solver_cases import cases_of


@pytest.mark.parametrize("seed", range(10))
def test_half_the_step_moves_no_due_day(seed: int) -> None:
    """Half the step and a tenth of the tolerance, of the run from new and of that after a rinse in its middle."""
    tub = tub_of(scores_of(seed), SINGLE[seed % len(SINGLE)], needs={"turnovers_per_hour": 2.0})
    finer = replace(tub, seen=list(tub.seen), rtol=0.1 * tub.rtol, longest_step_days=0.5 * tub.longest_step_days)
    first = finer.next_due()
    assert tub.next_due() == pytest.approx(first, rel=1e-3)
    for each in (tub, finer):
        each.rinse(0.5 * first)
    assert tub.next_due() == pytest.approx(finer.next_due(), rel=1e-3)


def test_a_tub_of_the_middle_is_the_slow_solvers_case() -> None:
    """The first run of a tub of the middle ends when the solver says."""
    case = dict(cases_of(data_in_use("pleated-20")))["Pleated 20"]
    solved = slow_solver.solve(case)
    tub = tub_of(CENTRAL, "pleated-20")
    assert solved["governed_by"] == "flow"
    assert tub.next_due() == pytest.approx(solved["days"], rel=1e-3)
    assert tub.flow_m3_s(solved["days"]) == pytest.approx(solved["due_flow_m3_s"], rel=1e-3)
    with pytest.raises(ValueError, match="lies before the last service"):
        tub.flow_m3_s(-1.0)
