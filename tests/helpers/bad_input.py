"""Bad input by the thousand: studies drawn from the schema, real files changed at random, a judge of what comes.

Every case is answered or refused with a line for each fault. What else can come of it is a finding: another error, a
run of more than ``MOST_S`` seconds of the processor, a figure that is no number, a negative cost, or an answer passed
off as good that breaks one of ``FACTS``.
"""

import copy
import json
import logging
import re
import signal
import sys
import tempfile
import tomllib
import traceback
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, partial
from math import isfinite, log
from pathlib import Path
from typing import Any, TypeVar, get_args
from unittest import mock

import page_cache
import page_fields
import page_filters
import page_link
import page_readings
import page_rows
import page_state
from facts import FACTS, both, broken_within, options_of
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from pages import first_page
from random_studies import random_study
from studies import EVERYTHING, SHORT, demo_data

from filtration import Comparison, InputError, NoAnswerError, OptionAnswer, Study, compare
from filtration.base.units import Measure, in_unit, read_quantity
from filtration.plan.dated_plan import plan
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import read_fleet
from filtration.present.charts.catalogue import METRIC, PICTURES
from filtration.present.documents import answer_document, fleet_document, forecast_document, plan_document
from filtration.present.exports.report import render_report
from filtration.present.words import answer as words
from filtration.readings.csv_file import csv_of, readings_from_csv
from filtration.readings.next_service import forecast
from filtration.study.file import study_from_dict
from filtration.study.tables import LISTS, TABLES
from filtration.study.text import text_of_tables

Given = dict[str, Any]
Got = TypeVar("Got")
MOST_S, MOST_WAIT_S = 5.0, 120.0
_UNITS: dict[str, tuple[str, ...]] = {
    "length": ("m", "cm", "mm", "um", "in", "ft"),
    "area": ("m^2", "cm^2", "sq ft"),
    "volume": ("L", "gal", "m^3"),
    "flow": ("L/h", "L/min", "gph", "m^3/h"),
    "pressure": ("kPa", "bar", "psi", "cm of water"),
    "power": ("W", "hp"),
    "mass": ("g", "oz"),
    "temperature": ("degC", "degF"),
    "time": ("day", "week", "year"),
}
HOSTILE = (
    "<script>alert(1)</script>", "![x](http://example.org/x.png)", "[x](javascript:alert(1))", "$e^x$",
    ":material/home:", "=1+1", "'; DROP TABLE tub; --", "{{7*7}}", "../../etc/passwd", "%s%n", "\u202egnp", "\u0000",
    "x" * 201,
    "", "\ud800", "\U0001f4a7", "滤芯", "NaN", "1e999", "-0", "0x10", "1_000", "2,5 m", "2.5", "never", "a\nb",
)  # fmt: skip
WILD = st.one_of(
    st.sampled_from(HOSTILE),
    st.sampled_from([None, True, False, 0, -1, 1, 2**63, 10**400, 1e-320, 1e308, float("nan"), float("inf"), -0.0]),
    st.sampled_from(
        [[], {}, [[]], [["1 m"]], [["1 m", "1 L/h", "1"]], {"name": "x"}, [None], [{}], ["Pleated 20"] * 11]
    ),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One input: its kind, and the tables or the text it is."""

    kind: str
    given: Any


# Drawing


@cache
def _measure_of(text: str) -> Measure:
    """Return the measure of a quantity."""
    for measure in get_args(Measure):
        try:
            read_quantity(text, measure)
        except InputError:
            continue
        return measure  # type: ignore[no-any-return]  # the library's own
    raise ValueError(text)


def _quantities(least: str, most: str) -> st.SearchStrategy[str]:
    """Draw quantities between two limits, evenly over their orders of magnitude."""
    measure = _measure_of(most)
    low, high = read_quantity(least, measure), read_quantity(most, measure)
    even = low <= 0.0  # a temperature, or a length that may be nothing

    def text(share: float, unit: str) -> str:
        floor = low if even else log(low)
        value = floor + share * ((high if even else log(high)) - floor)
        return f"{in_unit(value if even else min(max(2.718281828459045**value, low), high), unit):.6g} {unit}"

    drawn = st.builds(text, st.floats(0.0, 1.0), st.sampled_from(_UNITS[measure]))
    return drawn | st.sampled_from([least, most])


def _of_schema(schema: Any) -> st.SearchStrategy[Any]:  # noqa: PLR0911 - one line a kind of key
    """Draw what a key's own schema says it takes."""
    described = re.search(r"; (\S+ \S+) to (\S+ \S+)$", schema.get("description", ""))
    if described:
        drawn = _quantities(*described.groups())
        return drawn | st.just("never") if "or 'never'" in schema["description"] else drawn
    if "prefixItems" in schema.get("items", {}):
        return _points(*schema["items"]["prefixItems"], least=schema["minItems"])
    choices: dict[str, Callable[[], st.SearchStrategy[Any]]] = {
        "boolean": st.booleans,
        "integer": lambda: st.integers(schema["minimum"], schema["maximum"]),
        "number": lambda: st.floats(_low(schema), _high(schema)) | st.sampled_from([_low(schema), _high(schema)]),
        "array": lambda: st.lists(
            _of_schema(schema["items"]), min_size=schema["minItems"], max_size=schema["maxItems"]
        ),
    }
    if schema.get("enum") or schema.get("examples"):
        return st.sampled_from(schema.get("enum") or schema["examples"])
    if "const" in schema:
        return st.just(schema["const"])
    if schema.get("format") == "date":
        return st.dates().map(str)
    if schema["type"] == "string":
        return st.sampled_from(["A", "B", "Pleated 20", "Foam 20 ppi", "EUR", *HOSTILE]) | st.text(max_size=12)
    return choices[schema["type"]]()


def _low(schema: Any) -> float:
    return float(schema.get("minimum", schema.get("exclusiveMinimum")))


def _high(schema: Any) -> float:
    return float(schema.get("maximum", schema.get("exclusiveMaximum")))


def _points(first: Any, second: Any, *, least: int) -> st.SearchStrategy[list[list[Any]]]:
    """Draw lists of pairs whose columns mostly rise or fall as they should."""

    def size(value: Any) -> float:
        return read_quantity(value, _measure_of(value)) if isinstance(value, str) else float(value)

    def pairs(left: list[Any], right: list[Any], how: int) -> list[list[Any]]:
        if how:
            left, right = sorted(left, key=size), sorted(right, key=size, reverse=how == 1)
        return [list(pair) for pair in zip(left, right, strict=False)]

    column = partial(st.lists, min_size=least, max_size=least + 3)
    return st.builds(pairs, column(_of_schema(first)), column(_of_schema(second)), st.integers(0, 3))


KEYS: dict[tuple[str, str], st.SearchStrategy[Any]] = {
    (table, name): _of_schema(key.schema)
    for table, model in TABLES.items()
    for name in model.model_fields
    if (key := model.key(name)) is not None
}
_BASES = ("short", "everything", "freezer", "barrel", "quay")


def _base(which: int) -> Given:
    """Return a real study: our shortest, our fullest, a demo, or one of many drawn at random."""
    if which >= len(_BASES):
        return random_study(which)
    name = _BASES[which]
    return tomllib.loads({"short": SHORT, "everything": EVERYTHING}[name]) if which < 2 else demo_data(name)


def _rows(tables: Given, table: str) -> list[Given]:
    found = tables.get(table)
    rows = found if isinstance(found, list) else [found]
    return [row for row in rows if isinstance(row, dict)]


@st.composite
def studies(draw: st.DrawFn, wild: int = 1) -> Given:
    """Draw a study: a real one, some keys drawn anew from the schema, and up to so many things nearly right."""
    tables = _base(draw(st.integers(0, 40)))
    for table, name in draw(st.lists(st.sampled_from(sorted(KEYS)), max_size=5)):
        rows = _rows(tables, table)
        if not rows and table not in LISTS:
            rows = [tables.setdefault(table, {})]
        if rows:
            row = rows[draw(st.integers(0, len(rows) - 1))]
            if name not in row and table in {"pump", "pumps", "elements", "measured"} and draw(st.integers(0, 3)):
                continue  # a key more is mostly one too many
            row[name] = draw(KEYS[table, name])
    if draw(st.integers(0, 9)) == 0:  # trains of any length
        names = [row.get("name", "A") for row in _rows(tables, "elements")]
        for row in _rows(tables, "options"):
            row["stages"] = draw(st.lists(st.sampled_from(names), min_size=1, max_size=10))
    for _ in range(draw(st.integers(-1, wild))):
        _spoilt(draw, tables)
    return tables


def _spoilt(draw: st.DrawFn, tables: Given) -> None:
    """Spoil one thing of a study."""
    table = draw(st.sampled_from([*tables]))
    rows = _rows(tables, table)
    how = draw(st.integers(0, 7))
    if not rows or how == 0:
        tables[table] = draw(WILD)
        return
    row = rows[draw(st.integers(0, len(rows) - 1))]
    key = draw(st.sampled_from([*row])) if row else "name"
    match how:
        case 1:
            row.pop(key, None)
        case 2:
            row[key + draw(st.sampled_from(["s", "_", " ", "x"]))] = row.pop(key, None)
        case 3:
            tables.pop(table)
        case 4 if isinstance(tables[table], list):
            tables[table] = tables[table] * draw(st.sampled_from([2, 3, 20]))
        case 5:
            row[key] = f"{row.get(key)}".replace(".", ",")
        case 6:
            other = draw(st.sampled_from(sorted(KEYS)))
            row[other[1]] = draw(KEYS[other])
        case _:
            row[key] = draw(WILD)


_PIECES = (
    "",
    '"',
    "\n[",
    "]]",
    "=",
    ",",
    ";",
    "\r\n",
    "\t",
    "0",
    "9e9",
    "-",
    ".",
    "inf",
    "nan",
    "\u0000",
    "é",
    "'",
    "#",
    "{}",
)


@st.composite
def mutated(draw: st.DrawFn, texts: st.SearchStrategy[str]) -> bytes:
    """Draw a real file with some bytes changed, lines doubled, swapped or left out, other endings, decimal commas."""
    data = draw(texts).encode(errors="surrogatepass")
    for _ in range(draw(st.integers(0, 4))):
        start = draw(st.integers(0, len(data)))
        lines = data.split(b"\n")
        one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        match draw(st.integers(0, 8)):
            case 0:
                data = data[:start] + draw(st.binary(max_size=4)) + data[start + draw(st.integers(0, 8)) :]
            case 1:
                lines[one], lines[other] = lines[other], lines[one]
                data = b"\n".join(lines)
            case 2:
                data = b"\n".join(lines[:one] + lines[one + 1 :])
            case 3:
                data = b"\n".join([*lines[:one], lines[other], *lines[one:]])
            case 4:
                data = data[:start]
            case 5:
                data = b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n")
            case 6:
                data = re.sub(rb"([0-9])\.([0-9])", rb"\1,\2", data)
            case _:
                piece = draw(st.sampled_from(_PIECES))
                data = data[:start] + piece.encode() + data[start + draw(st.integers(0, 3)) :]
    return data


STUDY_TEXTS = st.builds(lambda which: text_of_tables(_base(which)), st.integers(0, 40)) | st.sampled_from(
    [SHORT, EVERYTHING]
)
_ROWS = st.builds(
    lambda day, hour, kind, value: (f"2026-{1 + day // 28:02d}-{1 + day % 28:02d}T{hour:02d}:00+01:00", kind, value),
    st.integers(0, 200),
    st.integers(0, 23),
    st.sampled_from(["bucket", "flow", "column", "pressure", "see-through", "rinse", "soak", "replace", "uses"]),
    st.floats(0.01, 1.0),
)  # fmt: skip
_VALUES: dict[str, Callable[[float], str]] = {
    "bucket": lambda share: f"10 L in {15.0 / share:.1f} s",
    "flow": lambda share: f"{40.0 * share:.3g} L/min",
    "column": lambda share: f"{200.0 * share:.3g} cm",
    "pressure": lambda share: f"{20.0 * share:.3g} kPa",
    "see-through": lambda share: f"{5.0 * share:.3g} m",
    "uses": lambda share: f"{30.0 * share:.0f}",
    "replace": lambda share: "pleated-20" if share > 0.5 else "",
}


def _csv(rows: list[tuple[str, str, float]], ending: str, delimiter: str) -> str:
    lines = [("when", "kind", "value"), ("2025-12-31T12:00Z", "replace", "pleated-20")]
    lines += [(when, kind, _VALUES.get(kind, lambda _: "")(share)) for when, kind, share in rows]
    return ending.join(delimiter.join(line) for line in lines)


READING_TEXTS = st.builds(
    _csv, st.lists(_ROWS, max_size=30), st.sampled_from(["\n", "\r\n"]), st.sampled_from([",", ",", ";"])
)
_COLUMNS = [
    "name",
    "tub.volume",
    "tub.uses_per_day",
    "elements.Pleated 20.price",
    "needs.turnovers_per_hour",
    "in_use.x",
]


@st.composite
def fleets(draw: st.DrawFn) -> str:
    """Draw a table of tubs."""
    columns = draw(st.lists(st.sampled_from(_COLUMNS), min_size=1, max_size=5, unique=True))
    delimiter = draw(st.sampled_from([",", ";"]))
    cell = st.sampled_from(
        ["", "300 L", "9", "9,5", "1.5", "true", "-3", '"a, b"', "Tub", "1e400", "nan", *HOSTILE[:12]]
    )
    rows = draw(st.lists(st.lists(cell, min_size=len(columns), max_size=len(columns)), max_size=4))
    return "\n".join(delimiter.join(row) for row in [columns, *rows])


@st.composite
def links(draw: st.DrawFn) -> str:
    """Draw the address of a page: studies or readings packed into a word, spoilt or not."""
    texts = draw(st.lists(studies(wild=3).map(_written) | st.text(max_size=40), max_size=2))
    if draw(st.booleans()):
        texts.append(
            json.dumps(draw(st.sampled_from([["tub", [["2026-03-03", "rinse", "", ""]], []], ["tub", 3], {}])))
        )
    word = page_link.packed(texts) or ""
    for _ in range(draw(st.integers(0, 2))):
        at = draw(st.integers(0, len(word)))
        word = word[:at] + draw(st.text("aZ0_-=é", max_size=3)) + word[at + draw(st.integers(0, 2)) :]
    return word


def _written(tables: Given) -> str:
    """Return tables as a text; what has no text stays out."""
    try:
        return text_of_tables(tables)
    except (TypeError, ValueError, OverflowError, AttributeError):
        return json.dumps(tables, default=str)


SHARES = {"tables": 45, "text": 25, "readings": 12, "fleet": 8, "link": 9.8, "page": 0.2}
"""Of a hundred cases, how many are of each kind."""

CASES: dict[str, st.SearchStrategy[Case]] = {
    "tables": studies().map(lambda given: Case(kind="tables", given=given)),
    "text": mutated(STUDY_TEXTS).map(lambda given: Case(kind="text", given=given)),
    "readings": mutated(READING_TEXTS).map(lambda given: Case(kind="readings", given=given)),
    "fleet": mutated(fleets()).map(lambda given: Case(kind="fleet", given=given)),
    "link": links().map(lambda given: Case(kind="link", given=given)),
    "page": studies(wild=6).map(_written).map(lambda given: Case(kind="page", given=given)),
}


# Judging


class Hang(BaseException):
    """A case takes too long."""


def soon(work: Callable[..., Got], *given: Any, times: int = 1, **named: Any) -> Got:
    """Return what some work gives, unless it takes too long, or so many times too long."""
    with limited(times):
        return work(*given, **named)


@contextmanager
def limited(times: int = 1) -> Iterator[None]:
    """Give up after so much of the processor's time, or after a long wait for nothing."""

    def stop(_signal: int, _frame: object) -> None:
        raise Hang

    kinds = ((signal.ITIMER_PROF, signal.SIGPROF, MOST_S), (signal.ITIMER_REAL, signal.SIGALRM, MOST_WAIT_S))
    before = [signal.signal(number, stop) for _, number, _ in kinds]
    for timer, _, seconds in kinds:
        signal.setitimer(timer, times * seconds)
    try:
        yield
    finally:
        for (timer, number, _), handler in zip(kinds, before, strict=True):
            signal.setitimer(timer, 0.0)
            signal.signal(number, handler)


def drawn(kind: str, count: int, seed_: int, see: Callable[[Case], None]) -> None:
    """Draw so many cases of a kind, the same for the same seed, and show each to somebody."""

    @seed(seed_)
    @settings(
        max_examples=count, database=None, phases=[Phase.generate], deadline=None, suppress_health_check=[*HealthCheck]
    )
    @given(CASES[kind])
    def draw(case: Case) -> None:
        see(case)

    with _quiet():
        draw()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep Streamlit from remarking that no browser looks at its pages."""
    logging.disable(logging.WARNING)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


def judged(case: Case, *, one_in: int = 50) -> tuple[str, list[str]]:
    """Return what came of a case, and the findings.

    Parameters
    ----------
    case : Case
        The input.
    one_in : int, optional
        One in so many studies that are read goes on to an answer, one in ten of these to draws, plan and report.
    """
    found: list[str] = []
    chance = zlib.crc32(repr(case.given).encode(errors="backslashreplace"))
    try:
        came = _JUDGES[case.kind](case.given, chance, one_in, found)
    except InputError as error:
        came = "refused"
        found += [f"a fault that is no readable line: {fault!r}" for fault in error.faults or ("",) if _odd(fault)]
    except NoAnswerError:
        came = "no answer"
    except Hang:
        came = "hang"
        found.append(f"not done after {MOST_S:g} s of the processor or {MOST_WAIT_S:g} s of waiting")
    except Exception:  # noqa: BLE001 - whatever else comes is what is looked for
        came = "error"
        found.append(traceback.format_exc(limit=-3))
    return came, found


def _odd(fault: str) -> bool:
    return not fault or not fault.isprintable() or bool(re.search("pydantic|Input should|Traceback|Error", fault))


def _few(tables: Given) -> Given:
    """Leave a study two options, or one of a train, so that an answer comes soon; every key of them stays."""
    new = copy.deepcopy(tables)
    options = new.get("options")
    if options:
        new["options"] = options[: 2 if all(len(option["stages"]) == 1 for option in options[:2]) else 1]
        stages = {stage for option in new["options"] for stage in option["stages"]}
        new["elements"] = [row for row in new["elements"] if row["name"].strip() in {each.strip() for each in stages}]
    else:
        new["elements"] = new["elements"][:2]
    new.pop("in_use", None)
    return new


def _study(tables: Given, chance: int, one_in: int, found: list[str]) -> str:
    soon(study_from_dict, tables)
    if chance % one_in:
        return "read"
    few = _few(tables)
    deep = chance // one_in
    fact = FACTS[deep % len(FACTS)]
    old, new = both(few, fact)
    answer, changed = (soon(compare, study_from_dict(each), times=_longest(each)) for each in (old, new))
    found += said(answer)
    found += said(changed)
    after = options_of(changed)
    for before in answer.options:
        if fact.broken(before, after[before.id]):
            found.append(f"{fact.name}: {before.id}, {_told(before)} then {_told(after[before.id])}")
    if deep // len(FACTS) % 10 == 0:
        return _further(study_from_dict(old), _longest(old), found)
    return "answered"


def _told(option: OptionAnswer) -> str:
    return (
        f"{option.days_to_first_service} days by {option.governed_by}, {option.cost_per_year.total} a year, "
        f"{option.clean_flow_l_per_h} L/h"
    )


def _longest(tables: Given) -> int:
    """Return how many times as long a study may take: each element of a train has its own count of rinses to find."""
    longest = max((len(option["stages"]) for option in tables.get("options", ())), default=1)
    return 2 * longest if longest > 1 else 1


def _further(study: Study, times: int, found: list[str]) -> str:
    """Take a study through draws, pictures, its plan and the report."""
    drawn = soon(compare, study, draws=64, times=times)
    found += said(drawn)
    for name, picture in PICTURES.items():
        try:
            soon(lambda: picture.draw(drawn, METRIC).to_dict())  # noqa: B023 - called at once
        except (InputError, NoAnswerError):
            continue
        found += [f"picture {name} says {words_!r}" for words_ in [picture.alt(drawn, METRIC)] if _no_number(words_)]
    try:
        ahead = soon(plan, study, today=datetime(2026, 3, 1, tzinfo=UTC).date(), draws=64, times=times)
    except NoAnswerError as none:
        ahead, why = None, str(none)
    else:
        why = ""
        found += wrong_numbers(plan_document(ahead))
    report = soon(render_report, drawn, ahead, why)
    found += ["the report has a figure that is none"] if _no_number(report) else []
    return "drawn, planned and reported"


def said(answer: Comparison) -> list[str]:
    """Return what is wrong with an answer, its document and its words."""
    lines = [words.headline(answer), *words.others(answer), *words.notes(answer)]
    return [
        *broken_within(answer),
        *wrong_numbers(answer_document(answer)),
        *(f"says {line!r}" for line in lines if _no_number(line)),
    ]


def _no_number(text: str) -> bool:
    return re.search(r"(?<![\w.+'(:-])(?:nan|inf|-inf|NaN|None)(?![\w-])", text) is not None


def wrong_numbers(made: object, at: str = "") -> list[str]:
    """Return what a document holds that is no number, or money and the like below nothing."""
    if isinstance(made, dict):
        return [line for key, inner in made.items() for line in wrong_numbers(inner, f"{at}.{key}")]
    if isinstance(made, list | tuple):
        return [line for place, inner in enumerate(made) for line in wrong_numbers(inner, f"{at}[{place}]")]
    below = isinstance(made, float) and made < 0.0 and re.search("cost|amount|total|elements|energy|days_to", at)
    return [f"{at} is {made}"] if isinstance(made, float) and (not isfinite(made) or below) else []


def _text(data: bytes, chance: int, one_in: int, found: list[str]) -> str:
    """Take a study file as the page takes one that is brought."""
    text = page_cache.text_of(data)
    faults = soon(page_cache.faults.__wrapped__, text)
    try:
        tables = soon(page_cache._tables.__wrapped__, text)
    except InputError:
        assert faults, "tables are refused, the study is not"
        return "refused"
    _page(text)
    if faults:
        raise InputError(*faults)
    again = text_of_tables(tables)
    assert tomllib.loads(again) == tables, "the page's text says something else"
    return _study(tables, chance, one_in, found)


def _page(text: str) -> None:
    """Fill the fields and tables of the page that a study file opens, faulty or not."""
    if not page_cache.is_shaped(text):
        return
    tables = page_cache.tables(text)
    with mock.patch.object(page_state, "display", return_value=METRIC):
        for shown in (page_fields.short(tables)[0], page_fields.folded(tables)):
            for each in (one for group in shown.values() for one in group if one.look == "number"):
                each.cell().shown(each.value(tables))
    for row in page_rows.rows_of(tables, "elements"):
        page_filters.FILTERS.line(row, tables)


def _readings(data: bytes, chance: int, one_in: int, found: list[str]) -> str:
    """Take a table of readings as the page takes one that is brought."""
    readings = soon(readings_from_csv, page_cache.text_of(data), where="tub.csv")
    assert readings_from_csv(csv_of(readings), where="tub.csv") == readings, "out and in again is another table"
    if chance % one_in:
        return "read"
    moment = datetime(2026, 1 + chance % 8, 15, tzinfo=UTC)
    ahead = soon(forecast, study_from_dict(tomllib.loads(SHORT)), readings, today=moment, draws=64)
    found += wrong_numbers(forecast_document(ahead))
    return "forecast"


def _fleet(data: bytes, chance: int, one_in: int, found: list[str]) -> str:
    with tempfile.TemporaryDirectory() as folder:
        table, template = Path(folder) / "tubs.csv", Path(folder) / "tub.toml"
        table.write_bytes(data)
        template.write_text(SHORT, encoding="utf-8")
        tubs = soon(read_fleet, table, template)
    good = []
    for tub in tubs:
        try:
            soon(study_from_dict, tub.tables or {}, where=tub.where)
        except InputError as error:
            found += [f"a fault that is no readable line: {fault!r}" for fault in error.faults if _odd(fault)]
        else:
            good.append(tub)
    if chance % one_in:
        return "read" if good else "refused"
    answer = soon(budget, [*good[:2], *tubs[:1]], draws=16)
    found += wrong_numbers(fleet_document(answer))
    return "budgeted"


def _link(word: str, chance: int, one_in: int, found: list[str]) -> str:
    """Take a page's address as the page does, for studies and for readings."""
    del chance, one_in, found
    came = "refused"
    try:
        for text in page_link.unpacked(word):
            soon(_page, text)
            soon(page_cache.faults.__wrapped__, text)
        came = "read"
    except (ValueError, InputError):
        pass
    try:
        for name, changes in page_readings._unpacked(word).items():
            page_readings.table_of(page_readings.Book(), changes)
            assert name is not None
    except ValueError:
        return came
    return "read"


@cache
def _freezer() -> Comparison:
    return compare(study_from_dict(demo_data("freezer")))


def _opened(text: str, chance: int, one_in: int, found: list[str]) -> str:
    """Open a study's link on the page itself, and change one field; answers are not worked out."""
    del one_in
    word = page_link.packed([text])
    if word is None:
        raise InputError("too long for a link")
    page = first_page(MOST_WAIT_S)
    page.query_params["study"] = word
    kept_main = mock.patch.dict(sys.modules, {"__main__": sys.modules["__main__"]})  # the page takes its name
    answers = mock.patch.multiple(page_cache, answer=mock.DEFAULT, advice=mock.DEFAULT)
    with kept_main, answers as instead, limited():
        for each in instead.values():
            each.return_value = _freezer()
        page.run()
        found += [f"the page stops: {error.value}" for error in page.exception]
        refused = any("no study that can be read" in each.value for each in page.warning)
        if page.text_input:
            page.text_input[chance % len(page.text_input)].set_value("1").run()
            found += [f"the page stops after a change: {error.value}" for error in page.exception]
    return "refused" if refused else "shown"


_JUDGES: dict[str, Callable[[Any, int, int, list[str]], str]] = {
    "tables": _study,
    "text": _text,
    "readings": _readings,
    "fleet": _fleet,
    "link": _link,
    "page": _opened,
}
