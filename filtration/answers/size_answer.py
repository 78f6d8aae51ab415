"""The answers to inverse questions. Names and units are those of the machine-readable document."""

from dataclasses import asdict, dataclass

from filtration.base.frames import Frame, frame_of, html_of
from filtration.study.values import Limit, Study


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpTrial:
    """How the option does on the pump scaled by one factor."""

    factor: float
    head_m: float
    flow_l_per_h: float
    clean_flow_l_per_h: float
    days_to_first_service: float
    governed_by: Limit
    suffices: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpSize:
    """The smallest pump that keeps a flow.

    Parameters
    ----------
    study : Study
        The study as it was asked about.
    option, name, pump : str
        Id and name of the option, name of its pump.
    wanted_flow_l_per_h, shortest_run_days : float
        Flow to be kept, and for how long at the least.
    known_by : {"box", "curve", "lift test"}
        What was scaled: two box numbers, points, or a lift test, which holds pump and hoses together.
    factor : float
        On head and flow alike [-].
    curve_l_per_h, curve_m : tuple of float
        Flows and heads of that pump: its two box numbers, or its points.
    clean_flow_l_per_h, due_flow_l_per_h : float
        Flow with the element new, and when due.
    days_to_first_service : float
        First run.
    governed_by : Limit
        What ends it.
    present : PumpTrial
        How the present pump does.
    left_aside : tuple of str
        Keys of the study that no pump meets and that were left aside.
    sizes : tuple of PumpTrial
        The smallest, the present one and some larger, by factor.
    """

    study: Study
    option: str
    name: str
    pump: str
    wanted_flow_l_per_h: float
    shortest_run_days: float
    known_by: str
    factor: float
    curve_l_per_h: tuple[float, ...]
    curve_m: tuple[float, ...]
    clean_flow_l_per_h: float
    due_flow_l_per_h: float
    days_to_first_service: float
    governed_by: Limit
    present: PumpTrial
    left_aside: tuple[str, ...]
    sizes: tuple[PumpTrial, ...]

    @property
    def present_suffices(self) -> bool:
        """Whether the present pump keeps the flow."""
        return self.present.suffices

    def table(self) -> Frame:
        """Return the pumps tried, smallest first.

        Returns
        -------
        pandas.DataFrame
            One row a pump; columns named as in the document.
        """
        return frame_of(map(asdict, self.sizes), PumpTrial.__slots__).set_index("factor")

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaTrial:
    """How the option does with an element of a common size; time limits left aside."""

    size: str
    area_m2: float | None
    length_m: float
    days_to_first_service: float
    governed_by: Limit
    reaches: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaSize:
    """How much of an element gives a wished first run.

    Parameters
    ----------
    study : Study
        The study as it was asked about.
    option, name, pump : str
        Id and name of the option, name of its pump.
    element, kind : str
        The element that is sized, and its kind; of a train the one that takes most when due.
    housings_in_parallel : int
        Elements side by side; all figures are of one of them.
    wanted_days, present_days : float
        First run wished, and that of the present element; both without time limits.
    factor : float
        How many times as much of the same element [-].
    area_m2, present_area_m2 : float or None
        Area of sheet, pad or foam; None for a depth cylinder.
    length_m, present_length_m : float or None
        Length of a depth cylinder, or of a pleated one whose pleats stand as far apart as now; None for flat ones.
    governed_by : Limit
        What ends that run.
    left_aside : tuple of str
        Keys of the study that would end the run before, or that no area meets, and that were left aside.
    most_area_m2 : float or None
        Sheet that fills the present size; None but for pleats.
    area_in_this_size_m2 : float or None
        Least sheet that gives the wished run in the present size, its pleats closer; None where no amount does.
    longest_in_this_size_days : float or None
        Longest first run found in the present size, where no amount of sheet gives the wished one; None elsewhere.
    sizes : tuple of AreaTrial
        The common cartridge sizes, smallest first; none for flat elements.
    """

    study: Study
    option: str
    name: str
    pump: str
    element: str
    kind: str
    housings_in_parallel: int
    wanted_days: float
    present_days: float
    factor: float
    area_m2: float | None
    present_area_m2: float | None
    length_m: float | None
    present_length_m: float | None
    governed_by: Limit
    left_aside: tuple[str, ...]
    most_area_m2: float | None
    area_in_this_size_m2: float | None
    longest_in_this_size_days: float | None
    sizes: tuple[AreaTrial, ...]

    @property
    def fits(self) -> bool | None:
        """Whether so much sheet finds room in the present size; None but for pleats."""
        return None if self.most_area_m2 is None or self.area_m2 is None else self.area_m2 < self.most_area_m2

    def table(self) -> Frame:
        """Return the common sizes, smallest first.

        Returns
        -------
        pandas.DataFrame
            One row a size; columns named as in the document.
        """
        return frame_of(map(asdict, self.sizes), AreaTrial.__slots__).set_index("size")

    _repr_html_ = html_of
