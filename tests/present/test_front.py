"""What the front page says and draws: the figures of the short answer, marks and buckets worked by hand."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from filtration import Comparison, NoAnswerError
from filtration.present.charts.tube import marks_of, tube_chart
from filtration.present.display import COLOURS, INK, METRIC
from filtration.present.words import front, short
from filtration.present.words.in_units import US

GROUNDS = {False: "#ffffff", True: "#0e171c"}


def test_the_sentence_has_the_figures_of_the_short_answer(drawn: Comparison) -> None:
    taken, lines = drawn.spoken_of, dict(short.lines(drawn))
    told = front.sentence(taken, drawn)
    often = lines["Rinse"].partition(", ")[0].removeprefix("after ")
    assert f"Rinse about every {often}." in told
    year, _, rest = lines["A year"].partition(", cartridge and rinsing ")
    assert told.endswith(f"{year.partition(' (')[0]} a year, {rest.removesuffix(' of it')} of it the cartridge's.")
    facts = dict(front.facts(taken, drawn))
    assert lines["Recommended"].partition(": ")[2] in facts["How sure"]
    for name in ("As good", "Would save"):
        assert facts.get(name) == lines.get(name)


def test_what_fails_says_why_and_what_the_advice_is(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    spun = answer.option("spun-5")
    assert front.sentence(spun, answer).startswith("Spun 5 µm will not do: even clean it gives 1,210 L/h")
    assert dict(front.facts(spun, answer))["The advice"].startswith("Pleated 10: in all of the 16 of 20")
    dear = answer.option("spun-20")
    more = (dear.cost_per_year.total or 0.0) - (answer.spoken_of.cost_per_year.total or 0.0)
    assert f"EUR {more:,.0f} less a year" in dict(front.facts(dear, answer))["The advice"]
    none = replace(answer, decision=replace(answer.decision, advised=None))
    assert front.sentence(spun, none).startswith("No option meets your needs; nearest is Spun 5 µm")


def test_buckets_by_hand(freezer: Comparison) -> None:
    """10 L at 1,800 and 1,200 L/h; 5 gal at 300 and 200 gph: 3.785411784 L each."""
    option = replace(freezer.spoken_of, clean_flow_l_per_h=1800.0, due_flow_l_per_h=1200.0)
    assert front.buckets(option) == "10 L in 20 s new, 30 s at the rinse"
    gallons = replace(option, clean_flow_l_per_h=300.0 * 3.785411784, due_flow_l_per_h=200.0 * 3.785411784)
    assert front.buckets(gallons, US) == "5 gal in 60 s new, 90 s at the rinse"
    assert front.buckets(replace(option, days_to_first_service=0.0)) == "10 L in 20 s new"


def test_marks_by_hand(freezer: Comparison) -> None:
    """A metre of water is 9.80665 kPa; an inch 2.54 cm."""
    option = replace(freezer.spoken_of, clean_tube_kpa=4.903325, due_tube_kpa=9.80665)
    assert marks_of(option) == {"new": pytest.approx(50.0, rel=1e-3), "rinse": pytest.approx(100.0, rel=1e-3)}
    assert marks_of(option, US)["rinse"] == pytest.approx(100.0 / 2.54, rel=1e-3)
    said = tube_chart(option).to_dict()["description"]
    assert "50 cm new, 100 cm rinse" in said
    assert front.buckets(option) in said
    with pytest.raises(NoAnswerError, match="needs the hose"):
        tube_chart(replace(option, clean_tube_kpa=None, due_tube_kpa=None))


def _light(colour: str) -> float:
    """Return relative luminance as WCAG 2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    dark, light = sorted((_light(one), _light(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("dark", [False, True])
def test_every_colour_stands_out_on_its_ground(*, dark: bool) -> None:
    display, ground = replace(METRIC, dark=dark), GROUNDS[dark]
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for colour in (*display.colours.values(), *display.second_colours.values(), INK):
        assert _contrast(colour, ground) >= 3.0, colour
    assert _contrast(display.letters, ground) >= 4.5
    assert set(display.colours) == set(COLOURS)
