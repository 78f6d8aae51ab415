"""Report and card: valid HTML that calls for nothing, reads on a phone, prints on so many sheets, and says the same."""

import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import html5lib
import pytest
from owners import back_pa
from plans import HOSTILE, Case, case_of, cents, hostile_data
from playwright.sync_api import Browser
from studies import demo_data, demo_with, study_of

from filtration import compare
from filtration.present.exports.card import render_card
from filtration.present.exports.report import render_report

HTML = "{http://www.w3.org/1999/xhtml}"


def long_names() -> Case:
    """Return twenty years of a club's tub, all names as long as a study takes them."""
    data = demo_data("quay")
    names = {each["name"]: f"{place} {HOSTILE * 3}"[:198] for place, each in enumerate(data["elements"])}
    for element in data["elements"]:
        element["name"] = names[element["name"]]
    for place, option in enumerate(data["options"]):
        option["name"] = f"{place} option {HOSTILE * 3}"[:198]
        option["stages"] = [names[stage] for stage in option["stages"]]
    data["name"] = (HOSTILE * 3)[:198]
    data["prices"]["horizon"] = "20 year"
    data.pop("in_use", None)
    return case_of(data)


@pytest.fixture(scope="module", params=["freezer", "barrel", "quay", "hostile", "long"])
def case(request: pytest.FixtureRequest) -> Case:
    if request.param == "long":
        return long_names()
    return case_of(hostile_data() if request.param == "hostile" else demo_data(request.param))


@pytest.fixture(scope="module")
def report(case: Case) -> str:
    return render_report(case.answer, case.plan)


@pytest.fixture(scope="module")
def card(case: Case) -> str:
    return render_card(case.answer, case.plan)


def words_of(text: str) -> str:
    """Return what a reader sees."""
    tree = html5lib.parse(text)
    for parent in tree.iter():
        for child in list(parent):
            if child.tag in (f"{HTML}style", f"{HTML}title"):
                parent.remove(child)
    return " ".join("".join(tree.itertext()).split())


def test_pages_are_valid_and_call_for_nothing(report: str, card: str, case: Case) -> None:
    for text in (report, card):
        tree = html5lib.HTMLParser(strict=True).parse(text)  # strict: raises at the first fault
        for element in tree.iter():
            assert (
                not str(element.tag)
                .lower()
                .endswith(("script", "link", "iframe", "img", "object", "}a", "foreignObject"))
            )
            for name, value in element.attrib.items():
                assert not str(name).lower().startswith("on")
                assert name not in ("src", "href") or value.startswith("#")
        ids = [element.attrib["id"] for element in tree.iter() if "id" in element.attrib]
        assert len(ids) == len(set(ids))
        assert " ".join(case.answer.study.name.split()) in words_of(text)


def test_a_report_carries_the_plan_to_a_cent(report: str, case: Case) -> None:
    table = next(each for each in html5lib.parse(report).iter(f"{HTML}table") if each.get("id") == "schedule")
    rows = [["".join(cell.itertext()).strip() for cell in row] for row in table.iter(f"{HTML}tr")]
    heads = [cell.get("title") or "".join(cell.itertext()) for cell in next(table.iter(f"{HTML}tr"))][1:-1]
    found = []
    for month, *cells, _ in rows[1:-2]:
        first = datetime.strptime(f"1 {month}", "%d %b %Y").date()  # noqa: DTZ007 - a month on paper has no zone
        found += [(first.replace(day=int(day)), heads[at]) for at, cell in enumerate(cells) for day in cell.split()]
    assert len(found) == len(case.plan.events)
    assert sorted(day for day, _ in found) == [event.date for event in case.plan.events]
    assert sorted(sum(head == each for _, head in found) for each in set(heads)) == sorted(
        sum((event.what, event.item) == kind for event in case.plan.events)
        for kind in {(event.what, event.item) for event in case.plan.events}
    )
    total = round(100 * (case.plan.total.undiscounted or 0.0))
    money = [float(row[-1].replace(",", "")) for row in rows[1:] if row[-1]]
    assert cents(money[:-1]) == round(100 * money[-1]) == total
    assert cents(float(amount.replace(",", "")) for amount in rows[-1][1:-1]) == total
    years = next(each for each in html5lib.parse(report).iter(f"{HTML}table") if each.get("id") == "years")
    amounts = ["".join(cell.itertext()).replace(",", "") for cell in years.iter(f"{HTML}td")]
    assert cents(map(float, amounts[:-2])) == round(100 * float(amounts[-2])) == total


def test_a_report_has_all_its_parts(report: str, case: Case) -> None:
    seen = words_of(report)
    for heading in ("Answer", "Why", "Cost", "Schedule", "How sure", "Before anyone gets in", "Assumed"):
        assert heading in seen
    for line in map(str, case.answer.study.assumed):
        assert " ".join(line.split()) in seen
    assert "Clear is not clean." in seen
    assert report.count("<svg") == 4


def test_pages_on_a_phone_and_on_paper(report: str, card: str, browser: Browser, tmp_path: Path) -> None:
    for text, most, name in ((report, 3, "report"), (card, 1, "card")):
        file = tmp_path / f"{name}.html"
        file.write_text(text, encoding="utf-8")
        page = browser.new_page(viewport={"width": 390, "height": 800})
        calls: list[str] = []
        page.on("request", lambda request, calls=calls: calls.append(request.url))
        complaints: list[str] = []
        page.on("console", lambda said, complaints=complaints: complaints.append(said.text))
        page.goto(file.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert (calls, complaints) == ([file.as_uri()], [])
        sheets = re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True))
        page.close()
        assert 1 <= len(sheets) <= most, name


def test_the_marks_of_a_card(browser: Browser, tmp_path: Path) -> None:
    """21 L/min are 10 L in 28.6 s; a kilopascal lifts water by 10.2 cm. Black on white, no other colour.

    A tube shows the housing and the hose back as well: half of 3 m and of the fittings, and the exit, by ``fluids``.
    """
    case = case_of(demo_data("freezer"))
    best = case.answer.spoken_of
    text = render_card(case.answer, case.plan)
    assert not re.search(r"#(?!000\b|fff\b)[0-9a-f]{3,6}\b(?=[;\"])", text)
    seen = words_of(text)
    study, id_ = case.answer.study, best.id
    new_cm, due_cm = (
        (1e3 * (loss or 0.0) + back_pa(study, id_, (flow or 0.0) / 3.6e6)) / 98.0665
        for loss, flow in (
            (best.clean_filter_loss_kpa, best.clean_flow_l_per_h),
            (best.due_filter_loss_kpa, best.due_flow_l_per_h),
        )
    )
    said = re.search(r"clear tube stands at (\d+) cm above the tub's water; new: (\d+) cm", seen)
    assert said is not None
    assert [float(each) for each in said.groups()] == pytest.approx([due_cm, new_cm], abs=1.5)
    assert f"{600.0 / (best.due_flow_l_per_h or 0.0) * 60.0:.0f} seconds" in seen
    file = tmp_path / "card.html"
    file.write_text(text, encoding="utf-8")
    page = browser.new_page()
    page.goto(file.as_uri())
    ticks = page.evaluate(
        "[...document.querySelectorAll('svg text[text-anchor=end]')].map(t => [+t.textContent, +t.getAttribute('y')])"
    )
    (low, at_low), *_, (high, at_high) = ticks
    mark = page.evaluate(
        "+document.querySelector('svg path[stroke-width=\"1.1\"]').getAttribute('d').match(/M0 ([0-9.]+)/)[1]"
    )
    page.close()
    assert low + (mark + 1.1 - at_low) / (at_high - at_low) * (high - low) == pytest.approx(due_cm, abs=1.5)


def test_a_card_by_the_calendar_says_which_flow_is_sooner() -> None:
    """Three times 420 L an hour are 21 L/min, 10 L in 28.6 s; by a pressure no flow is told."""
    data = demo_with("freezer", "Pleated 20")
    data["needs"] |= {"turnovers_per_hour": 3, "rinse_at_least_every": "4 day"}
    case = case_of(data, option="pleated-20")
    assert case.answer.option("pleated-20").governed_by == "time limit"
    assert "sooner when a 10 L bucket takes 29 seconds: 21 L/min left." in words_of(render_card(case.answer, case.plan))
    data["needs"]["max_pressure_rise"] = "20 kPa"
    case = case_of(data, option="pleated-20")
    assert "seconds: 21 L/min left" not in words_of(render_card(case.answer, case.plan))


@pytest.mark.parametrize(("new_cm", "due_cm"), [(20.0, 22.0), (200.0, 204.0), (204.0, 200.0), (20.0, 21.0)])
def test_marks_of_a_tube_are_apart_enough_to_read(new_cm: float, due_cm: float) -> None:
    """A letter of the marks is 4.4 mm high; a centimetre of water is 0.0980665 kPa (ISO 80000-4, conventional)."""
    case = case_of(demo_data("freezer"))
    kpa = 0.0980665
    option = replace(case.answer.spoken_of, clean_tube_kpa=new_cm * kpa, due_tube_kpa=due_cm * kpa)
    some = replace(case.answer, options=(option,))
    text = render_card(some, replace(case.plan, option=option.id))
    assert ("<svg" in text) == (abs(due_cm - new_cm) >= 1.5)
    if "<svg" in text:
        due, new = (float(re.search(rf'y="([0-9.-]+)" font-size="{size}"', text)[1]) for size in (r"4\.4", "4"))  # type: ignore[index]
        assert abs(due - new) >= 4.4
        assert (due < new) == (due_cm > new_cm)


def test_a_report_without_a_plan() -> None:
    data = demo_data("freezer")
    data["needs"]["turnovers_per_hour"] = 50
    answer = compare(study_of(data), draws=16)
    assert answer.advised is None
    text = render_report(answer, None, "No option meets your needs.")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "No option meets your needs" in words_of(text)
