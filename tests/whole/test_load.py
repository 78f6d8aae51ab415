"""A small crowd at the pages at once: nothing breaks, and everybody is told of their own tub."""

import asyncio
import re
import threading
from pathlib import Path

import page_kept
import pytest
from pages import at, first_page
from streamlit.proto import Exception_pb2
from streamlit.proto.Element_pb2 import Element
from visitor import Served, Shown, Visitor, answer_line, link_of, own_tub, served

CROWD = {270.0: 4.0, 330.0: 7.0, 520.0: 5.5}
"""Water of each tub [L], and the dips a day that its owner types."""
FEW = ("Pleated 20",)
"""The one option of each tub: it is the crowd that is tried here, not the pump."""


async def _visit(server: Served, litres: float, uses: float) -> list[str]:
    """Open a tub, type, look at two pages, move a slider and keep it; return the answers in a line."""
    lines = list[str]()
    async with Visitor(server.address, link_of(own_tub(litres, few=FEW))) as visitor:

        def look() -> None:
            lines.append(visitor.shown.line())
            assert visitor.shown.exceptions == []

        await visitor.open()
        look()
        assert visitor.shown.widgets["text_input", "Water, L"].default == f"{litres:g}"
        await visitor.change("text_input", "Dips a day", uses)
        look()
        await visitor.go("which_filter")
        look()
        assert visitor.shown.elements > 20
        await visitor.go("what_if")
        look()
        slider = visitor.shown.widgets["slider", "Dips a day"]
        assert list(slider.default) == [uses]
        await visitor.change("slider", "Dips a day", round(uses + slider.step, 9))
        look()
        await visitor.press("Keep it so")
        look()
        await visitor.go("")
        look()
        assert visitor.shown.widgets["text_input", "Water, L"].default == f"{litres:g}"
        assert float(visitor.shown.widgets["text_input", "Dips a day"].default) == pytest.approx(uses + slider.step)
    return lines


async def _everybody(server: Served) -> list[list[str]]:
    return await asyncio.gather(*(_visit(server, litres, uses) for litres, uses in CROWD.items()))


def test_a_crowd_at_once_and_everybody_is_told_of_their_own_tub(tmp_path: Path) -> None:
    with served(tmp_path) as server:
        seen = asyncio.run(_everybody(server))
        assert server.complaints() == []
    typed = [answer_line(own_tub(litres, uses, FEW)) for litres, uses in CROWD.items()]
    assert len(set(typed)) == len(CROWD)  # or a mix-up would not show
    assert [lines[1][: len(line)] for lines, line in zip(seen, typed, strict=True)] == typed
    assert all(lines[-1] for lines in seen)


def test_a_visitor_sees_an_exception_and_a_server_its_traceback(tmp_path: Path) -> None:
    """Else a crowd without one would say nothing."""
    shown = Shown()
    shown.take(Element(exception=Exception_pb2.Exception(type="ZeroDivisionError", message="division by zero")))
    assert shown.exceptions == ["ZeroDivisionError: division by zero"]
    log = tmp_path / "log.txt"
    log.write_text("You can now view the pages.\nTraceback (most recent call last):\n", encoding="utf-8")
    assert len(Served(address="", process=0, log=log).complaints()) == 1


def test_no_more_work_at_a_time_than_there_are_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two turns and ten people: two at work at most, each thing once, and work that asks for more work goes on."""
    monkeypatch.setattr(page_kept, "_turns", page_kept.Turns(2))
    guard, at_work, most, done = threading.Lock(), [0], [0], list[int]()

    @page_kept.kept
    def inner(number: int) -> int:
        with guard:
            at_work[0] += 1
            most[0] = max(most[0], at_work[0])
        threading.Event().wait(0.02)
        with guard:
            at_work[0] -= 1
            done.append(number)
        return number

    @page_kept.kept
    def outer(number: int) -> int:
        return inner(number) + 1

    found = list[int]()
    crowd = [
        threading.Thread(target=lambda at=at: found.append((outer, inner)[at % 2](at // 4)), daemon=True)
        for at in range(20)
    ]
    for each in crowd:
        each.start()
    for each in crowd:
        each.join(timeout=20)
    assert len(found) == 20
    assert sorted(done) == [0, 1, 2, 3, 4]
    assert most[0] <= 2


def never() -> None:
    """Be called where nobody should wait."""
    pytest.fail("waits where a turn is free")


def test_turns_go_in_order_and_who_has_gone_is_passed_over() -> None:
    turns, came = page_kept.Turns(1), list[int]()
    turns.take(never)
    queued = [threading.Event() for _ in range(4)]
    gone = threading.Event()

    def person(number: int) -> None:
        def waiting() -> None:
            queued[number].set()
            if number == 1 and gone.is_set():
                raise KeyError(number)  # as the page does where its visitor has asked for something else

        try:
            turns.take(waiting)
        except KeyError:
            return
        came.append(number)
        turns.give_back()

    crowd = [threading.Thread(target=person, args=(number,), daemon=True) for number in range(4)]
    for number, each in enumerate(crowd):
        each.start()
        assert queued[number].wait(10)
    gone.set()
    crowd[1].join(timeout=10)
    assert not crowd[1].is_alive()
    turns.give_back()
    for each in crowd:
        each.join(timeout=10)
    assert came == [0, 2, 3]
    turns.take(never)  # all turns have been given back


def test_a_page_waits_once(monkeypatch: pytest.MonkeyPatch) -> None:
    turns = page_kept.Turns(1)
    monkeypatch.setattr(page_kept, "_turns", turns)
    work = page_kept.kept(lambda number: number)
    with page_kept.one_turn():
        assert [work(1), work(2)] == [1, 2]
        waited = threading.Event()
        other = threading.Thread(target=lambda: turns.take(waited.set) or turns.give_back(), daemon=True)
        other.start()
        assert waited.wait(10)
        assert work(3) == 3
    other.join(timeout=10)
    assert not other.is_alive()
    with page_kept.one_turn():
        pass
    turns.take(never)


def test_who_works_long_holds_nobody_up(monkeypatch: pytest.MonkeyPatch) -> None:
    turns = page_kept.Turns(1)
    monkeypatch.setattr(page_kept, "_turns", turns)
    monkeypatch.setattr(page_kept, "_LONG_S", 0.05)
    began, may_end = threading.Event(), threading.Event()

    @page_kept.kept
    def work(number: int) -> int:
        if number == 0:
            began.set()
            assert may_end.wait(20)
        return number

    long = threading.Thread(target=work, args=(0,), daemon=True)
    long.start()
    assert began.wait(10)
    assert work(1) == 1
    assert long.is_alive()
    may_end.set()
    long.join(timeout=10)
    turns.take(never)
    with pytest.raises(KeyError):  # its turn was given back once, not twice
        turns.take({}.popitem)


def test_who_works_for_a_while_lets_others_come_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who waits for the same answer has no turn meanwhile, so that nobody waits for each other."""
    turns, began, order = page_kept.Turns(1), threading.Event(), list[int]()
    monkeypatch.setattr(page_kept, "_turns", turns)
    monkeypatch.setattr(page_kept, "_WHILE_S", 0.0)

    @page_kept.kept
    def work(number: int) -> int:
        if number == 0:
            began.set()
            while not turns.wanted:
                threading.Event().wait(0.01)
            page_kept.pause()
        order.append(number)
        return number

    long = [threading.Thread(target=work, args=(0,), daemon=True) for _ in range(2)]
    long[0].start()
    assert began.wait(10)
    long[1].start()
    assert work(1) == 1
    for each in long:
        each.join(timeout=10)
        assert not each.is_alive()
    assert order == [1, 0]
    turns.take(never)


def test_what_is_known_waits_for_no_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = list[int]()

    @page_kept.kept
    def work(number: int) -> int:
        calls.append(number)
        return 2 * number

    assert work(3) == 6
    taken = page_kept.Turns(1)
    taken.take(never)
    monkeypatch.setattr(page_kept, "_turns", taken)
    assert work(3) == 6
    assert calls == [3]


def test_the_longest_unused_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_kept, "MOST_KEPT", 2)
    calls = list[int]()

    @page_kept.kept
    def work(number: int) -> int:
        calls.append(number)
        return number

    for number in (1, 2, 1, 3, 1, 2):
        assert work(number) == number
    assert calls == [1, 2, 3, 2]


def test_who_waits_for_a_turn_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    turns = page_kept.Turns(1)
    turns.take(never)
    monkeypatch.setattr(page_kept, "_turns", turns)
    told = list[str]()

    def tell(_share: float, what: str) -> None:
        told.append(what)
        turns.give_back()

    with page_kept.telling(tell):
        assert page_kept.kept(lambda: 5)() == 5
    assert told == ["others come first"]


def test_a_fault_gives_the_turn_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_kept, "_turns", page_kept.Turns(1))

    @page_kept.kept
    def fails(number: int) -> int:
        raise ValueError(str(number))

    for _ in range(3):
        with pytest.raises(ValueError, match="7"):
            fails(7)


def test_a_session_does_not_grow_as_its_fields_start_anew() -> None:
    """What is kept of fields, open cards and folds is forgotten once they start from something else."""
    page = at(first_page(90).run(), "your_tub")

    def held() -> list[str]:
        return sorted(re.sub(r"\d+", "n", key) for key in page.session_state)

    def look() -> None:
        next(button for button in page.button if "**Pleated 20**" in button.label).click().run()

    look()
    before = held()
    for _ in range(3):
        page.button(key="demo-freezer").click().run()
        look()
    assert not page.exception
    assert page.session_state.edition == 3
    assert held() == before
