"""What a forecast says: the next service, what to do today, and what was learnt."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from filtration.answers.results import Measure
from filtration.base.draws import Belief
from filtration.base.frames import Frame, frame_of, html_of
from filtration.base.remarks import Remark
from filtration.readings.advising import Advice, Range
from filtration.readings.learning import Learnt
from filtration.readings.outlook import Service
from filtration.readings.record import Doubt, Record
from filtration.study.values import Study


@dataclass(frozen=True, slots=True, kw_only=True)
class NextService:
    """The next service.

    Parameters
    ----------
    what : {"rinse", "soak", "replace"}
        What to do then.
    p10, p50, p90 : date
        Days by which it is due in 10, 50 and 90 % of the draws; in the past where it is overdue.
    in_days : (float, float, float)
        The same from now [day].
    governed_by : {"flow", "pressure", "full", "clarity", "time limit"}
        What asks for it in most draws.
    due_already : float
        Chance that it is due now [-].
    """

    what: Service
    p10: date
    p50: date
    p90: date
    in_days: Range
    governed_by: str
    due_already: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What an unknown is after the readings, as a factor or in its own unit, and what it was believed to be before."""

    unknown: str
    median: float
    p10: float
    p90: float
    prior_p10: float
    prior_p90: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Serviced:
    """A day on which what is in use was rinsed, and whether it was soaked too."""

    on: date
    soaked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What the readings say of the option in use.

    Parameters
    ----------
    study : Study
        The study.
    option, pump : str
        Names of what is in use.
    fitted_on : date
        When the element was new.
    today : datetime
        When the forecast was made.
    prior, belief : Belief
        Before and after the readings.
    next_service : NextService
        When, and what.
    rinses_left : (float, float, float) or None
        10, 50 and 90 % of the rinses until a new element is cheaper; None where nothing can be rinsed.
    flow_today_l_per_h : (float, float, float)
        10, 50 and 90 %.
    wanted_l_per_h : float
        Flow when due, in the middle draw.
    chance_clean_lacks : float
        Chance that even the clean filter lacks the flow wanted [-].
    fitted : tuple of Estimate
        The unknowns that touch the flow.
    dirt : Estimate
        Factor on the dirt that bathers bring a day: that of a dip times that of their number.
    readings_used : int
        Readings that count.
    refused : tuple of Doubt
        Rows that do not count, and why.
    doubted : tuple of Doubt
        Readings that count for little, and why.
    diagnosis : tuple of Remark
        What else is going on, likeliest first.
    notes : tuple of Remark
        What the reader should know besides.
    measure : Measure or None
        What one more reading now would narrow the days to go to; None where the service is due or nothing would.
    services : tuple of Serviced
        Rinses and soaks of what is in use that were written down.
    water_changed_on : date or None
        When the water was last changed; None where that was not written down.
    stock : mapping of str to int
        Elements in store, by name.
    advice : Advice
        What to do today, and what a week's waiting does.
    draws, seed : int
        How many, and which.
    record, learnt : Record, Learnt
        What it was worked out from.
    """

    study: Study
    option: str
    pump: str
    fitted_on: date
    today: datetime
    prior: Belief
    belief: Belief
    next_service: NextService
    rinses_left: Range | None
    flow_today_l_per_h: Range
    wanted_l_per_h: float
    chance_clean_lacks: float
    fitted: tuple[Estimate, ...]
    dirt: Estimate
    readings_used: int
    refused: tuple[Doubt, ...]
    doubted: tuple[Doubt, ...]
    diagnosis: tuple[Remark, ...]
    notes: tuple[Remark, ...]
    measure: Measure | None
    services: tuple[Serviced, ...]
    water_changed_on: date | None
    stock: Mapping[str, int]
    advice: Advice
    draws: int
    seed: int
    record: Record
    learnt: Learnt

    def table(self) -> Frame:
        """Return the fitted unknowns.

        Returns
        -------
        pandas.DataFrame
            One row an unknown; columns named as in the document.
        """
        return frame_of(map(asdict, self.fitted), Estimate.__slots__).set_index("unknown")

    _repr_html_ = html_of
