"""Filters, what is compared of them, and pumps as cards: a line each, opened to change, and one more to add."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, get_args

import page_cache
import page_rows
import page_state
import streamlit as st
from page_cache import Fault
from page_fields import COMBINATION, ELEMENT, HOUSING, PUMP, Form, is_missing
from page_keys import Field
from page_rows import Row, Tables
from page_text import plain

from filtration.present.words import fields as field_words
from filtration.present.words import phrases
from filtration.study.keys import SIZES
from filtration.study.rules import foreign_keys
from filtration.study.values import Kind

_FOAMS_OWN = {"pores_per_inch", "area", "thickness"}
_WIDTH_PX = 124  # two fields beside each other, in a fold of a card on a phone too
_ENTRY = 2  # parts of the place of an entry as a whole: list and number
_OPEN, _DRAFTS = "open card", "drafts"


@dataclass(frozen=True)
class Cards:
    """A list of a study as cards: what one is called, told in a line and made of, and how it comes and goes."""

    table: str
    button: str
    needed: tuple[str, ...]
    called: Callable[[Row], str]
    line: Callable[[Row, Mapping[str, Any]], list[str]]
    body: Callable[[Form, Mapping[str, Any], int], None]
    add: Callable[[Tables, Row], object]
    drop: Callable[[Tables, int], object]
    least: int = 1


def filters(tables: Mapping[str, Any]) -> None:
    """Show the filters compared, and how they are combined."""
    rows = page_rows.rows_of(tables, "elements")
    st.markdown("**The filters you would buy**")
    if rows == page_cache.empty_tables()["elements"]:
        st.caption(field_words.SHELF_NOTE)
    _cards(FILTERS, tables)
    _housing(rows)
    _cards(COMBINATIONS, tables, hidden=partial(_is_own, page_rows.rows_of(tables, "options")))


def pumps(tables: Mapping[str, Any]) -> None:
    """Show the pumps compared, or offer to set another beside the one there is."""
    if tables.get("pumps"):
        _cards(PUMPS, tables)
    else:
        st.button("Compare another pump", on_click=page_state.change, args=(page_rows.second_pump,))


def _housing(rows: list[Row]) -> None:
    """Show the size that most filters have, to change at once for those that have it."""
    sizes = Counter(row["size"] for row in rows if row.get("size") in SIZES)
    if len(rows) < 2 or not sizes:
        return
    (usual, _), key = sizes.most_common(1)[0], page_state.key("housing")

    def put() -> None:
        page_state.change(partial(page_rows.resize, before=usual, size=st.session_state[key]))
        page_state.renew()

    how = f"Length by width; on the housing or its box. Changes the filters of {usual}; those of other sizes stay."
    st.selectbox("Housing takes", tuple(SIZES), list(SIZES).index(usual), key=key, on_change=put, help=how, width=220)


def _cards(cards: Cards, tables: Mapping[str, Any], hidden: Callable[[int], bool] = lambda _at: False) -> None:
    """Show a list as cards; a new one joins it once it is whole."""
    rows, draft = page_rows.rows_of(tables, cards.table), _drafts().get(cards.table)
    if cards.table == "options" and not rows:
        rows = [{}] * len(page_rows.rows_of(tables, "elements"))  # each alone, told by the cards of the filters
        hidden = len(rows).__gt__
    view = dict(tables) if draft is None else {**tables, cards.table: [*rows, draft]}
    faults = page_cache.faults(page_state.text()) if draft is None else page_cache.faults_in(view)
    with st.container(gap=None, key=page_state.key(f"cards {cards.table}")):
        for at, row in enumerate(page_rows.rows_of(view, cards.table)):
            if not hidden(at):
                new = at == len(rows)
                change = partial(_change_draft, cards) if new else page_state.change
                _card(cards, Form(view, faults, change, _WIDTH_PX), at, row, new=new)
    st.button(
        cards.button, key=f"add {cards.table}", on_click=_begin, args=(cards, len(rows)), disabled=draft is not None
    )


def _card(cards: Cards, form: Form, at: int, row: Row, *, new: bool) -> None:
    """Show one card: its line, what is wrong with it, and where it is open its fields."""
    opened, wrong = _opened(cards) == at, [*form.faults_at(cards.table, at), *_own_faults(cards, form, row)]
    with st.container(gap=None, key=page_state.key(f"card {cards.table} {at}")):
        name = str(row.get("name") or (cards.called(row) if row else "") or "A new one")
        told = [f"**{plain(name)}**", *map(plain, [] if new else cards.line(row, form.tables))]
        label, icon = " · ".join(told), f":material/{'expand_more' if opened else 'chevron_right'}:"
        key = page_state.key(f"look at {cards.table} {at}")
        st.button(label, key=key, type="tertiary", icon=icon, on_click=_open, args=(cards, None if opened else at))
        if new:
            st.caption(f"Not compared yet. {field_words.MISSING}: {plain(', '.join(_lacking(cards, row, wrong)))}.")
        for fault in wrong:
            if not (is_missing(fault) or (new and len(fault.place) == _ENTRY)) and (
                not opened or len(fault.place) == _ENTRY
            ):
                st.markdown(f":red[▲ {plain(fault.removeprefix(f'{name}, '))}]")
        if opened:
            with st.container(border=True):
                cards.body(form, row, at)
                with st.container(horizontal=True, gap="small"):
                    st.button("Done", key=page_state.key(f"close {cards.table}"), on_click=_open, args=(cards, None))
                    last = not new and len(page_rows.rows_of(form.tables, cards.table)) <= cards.least
                    away = {"key": page_state.key(f"drop {cards.table}"), "disabled": last}
                    st.button("Take it away", on_click=_drop, args=(cards, at, new), **away)


def _own_faults(cards: Cards, form: Form, row: Row) -> list[Fault]:
    """Return what is wrong with a filter on its own, which its card tells too."""
    own = page_rows.own_option(form.tables, row.get("name")) if cards.table == "elements" else None
    return [] if own is None else form.faults_at("options", own)


def _lacking(cards: Cards, row: Row, wrong: list[Fault]) -> list[str]:
    """Return what a new card still lacks, as its fields are called."""
    keys = [key for key in cards.needed if row.get(key) is None]
    keys += [str(fault.place[-1]) for fault in wrong if is_missing(fault)]
    keys += ["size" for fault in wrong if len(fault.place) == _ENTRY]  # it has no shape yet
    table = "pump" if cards.table == "pumps" else cards.table
    told = [field_words.FIELDS[f"{table}.{key}"][0] for key in dict.fromkeys(keys) if key != "name"]
    return told or ["what is wrong below"]


def _drafts() -> dict[str, Row]:
    """Return what is begun and not whole, by its list, of the tub that is looked at."""
    by_tub: dict[int, dict[str, Row]] = st.session_state.setdefault(_DRAFTS, {})
    return by_tub.setdefault(st.session_state.place, {})


def _begin(cards: Cards, at: int) -> None:
    _drafts()[cards.table] = {}
    _open(cards, at)


def _opened(cards: Cards) -> int | None:
    opened: int | None = page_state.till_renewed().get(f"{_OPEN} {cards.table}")
    return opened


def _open(cards: Cards, at: int | None) -> None:
    page_state.till_renewed()[f"{_OPEN} {cards.table}"] = at


def _drop(cards: Cards, at: int, new: bool) -> None:  # noqa: FBT001 - a plain fact
    if new:
        del _drafts()[cards.table]
        _open(cards, None)
    else:
        page_state.change(partial(cards.drop, at=at))
        page_state.renew()


def _change_draft(cards: Cards, work: Callable[[Tables], object]) -> None:
    """Change what is begun; once it is whole the study has it."""
    tables = page_cache.tables(page_state.text())
    rows = page_rows.each_alone(tables) if cards.table == "options" else tables.setdefault(cards.table, [])
    rows.append(_drafts()[cards.table])
    at = len(rows) - 1
    work(tables)
    row = rows[at]
    whole = {"name": page_rows.free_name(cards.called(row), rows[:-1])} | row
    rows[at] = whole
    lacks = any(row.get(key) is None for key in cards.needed)
    if lacks or any(fault.place[:2] == (cards.table, at) for fault in page_cache.faults_in(tables)):
        _drafts()[cards.table] = row
        return
    del _drafts()[cards.table]
    page_state.change(partial(cards.add, row=whole))


def _filter_line(row: Row, tables: Mapping[str, Any]) -> list[str]:
    pores = f"{row['pores_per_inch']} pores an inch" if "pores_per_inch" in row else ""
    told = [row.get("kind"), row.get("size"), row.get("rating"), pores]
    words = [str(each).replace("um", "µm") for each in told if each]
    return [*words, _price(row, tables)]


def _price(row: Row, tables: Mapping[str, Any]) -> str:
    price, currency = row.get("price"), str(tables.get("currency", "EUR"))
    if not isinstance(price, int | float):
        return "no price, counted as 0"
    return phrases.money(price, currency) if price == round(price) else phrases.cents(price, currency)


def _filter_body(form: Form, row: Row, at: int) -> None:
    """Show a filter: a few fields first, the rest folded, and how it is compared."""
    kind, name = str(row.get("kind", "")), row.get("name")
    form.show([field for field in ELEMENT[""] if _first(field.key, kind, row)], at)
    foreign = foreign_keys(kind) if kind in get_args(Kind) else set()
    with st.expander("More about it", expanded=_wrong_below(form, row, at), key=page_state.key(f"more {at}")):
        for group in ("maker", "shape", "care", "delivery"):
            first = _FOAMS_OWN if kind == "foam" else set()
            shown = [f for f in ELEMENT[group] if f.key in row or f.key not in foreign] if kind else []
            shown = [field for field in shown if field.key not in first]
            if shown:
                st.markdown(f"**{field_words.GROUPS[group]}**")
                form.show(shown, at)
        own = page_rows.own_option(form.tables, name) if "options" in form.tables else at
        if isinstance(name, str) and at < len(page_rows.rows_of(page_cache.tables(page_state.text()), "elements")):
            st.markdown(f"**{field_words.GROUPS['housing']}**")
            key = page_state.key(f"alone {at}")

            def put() -> None:
                alone = partial(page_rows.compare_alone, name=name, compared=st.session_state[key])
                page_state.change(alone)

            st.checkbox("Compared on its own", own is not None, key=key, on_change=put)
            if own is not None:
                form.show(HOUSING, own)


def _first(key: str, kind: str, row: Row) -> bool:
    """Return whether a card shows a key before what it folds away."""
    if key in {"name", "kind", "price"}:
        return True
    return (
        key in _FOAMS_OWN if kind == "foam" else key in {"size", "rating"} or (key in row and key == "pores_per_inch")
    )


def _wrong_below(form: Form, row: Row, at: int) -> bool:
    """Return whether something in what is folded away is, or was, wrong."""
    kept, key = page_state.till_renewed(), f"wrong filter {at}"
    first = {at, *(field.key for field in ELEMENT[""])}  # of the filter as a whole the card tells
    faults = [*form.faults_at("elements", at), *_own_faults(FILTERS, form, row)]
    wrong = any(
        fault.place[-1] not in first or fault.place[0] == "options" for fault in faults if not is_missing(fault)
    )
    kept[key] = kept.get(key, False) or wrong
    return bool(kept[key])


def _is_own(options: list[Row], at: int) -> bool:
    """Return whether an option is a filter on its own, which its card tells."""
    return at < len(options) and options[at].get("stages") == [options[at].get("name")]


def _combination_line(row: Row, _tables: Mapping[str, Any]) -> list[str]:
    stages, several = " → ".join(map(str, row.get("stages", []))), row.get("housings_in_parallel", 1)
    return [stages or "nothing yet", *([f"{several} side by side"] if several != 1 else [])]


def _fields_body(fields: tuple[Field, ...], table: str, form: Form, _row: Row, at: int) -> None:
    form.show(fields, at, table)


def _drop_option(tables: Tables, at: int) -> None:
    del tables["options"][at]


def _add_option(tables: Tables, row: Row) -> None:
    page_rows.each_alone(tables).append(row)


def _add_pump(tables: Tables, row: Row) -> None:
    tables["pumps"].append(row)


FILTERS = Cards(
    table="elements",
    button="Add a filter",
    needed=("kind", "price"),
    called=page_rows.called,
    line=_filter_line,
    body=_filter_body,
    add=page_rows.add_element,
    drop=page_rows.drop_element,
)
COMBINATIONS = Cards(
    table="options",
    button="Add a combination: in series, or side by side",
    needed=("stages",),
    called=lambda row: " then ".join(map(str, row.get("stages", []))),
    line=_combination_line,
    body=partial(_fields_body, COMBINATION, "options"),
    add=_add_option,
    drop=_drop_option,
)
PUMPS = Cards(
    table="pumps",
    button="Add a pump",
    needed=("power",),
    called=lambda _row: "Pump",
    line=lambda row, _tables: [str(row[key]) for key in ("shutoff_head", "max_flow", "power") if key in row],
    body=partial(_fields_body, PUMP, "pumps"),
    add=_add_pump,
    drop=page_rows.drop_pump,
)
