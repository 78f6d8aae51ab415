"""What lies in store: bought, and not yet fitted."""

from bisect import bisect_right
from collections import Counter, deque
from collections.abc import Mapping, Sequence

from filtration.readings.reading import Reading
from filtration.readings.record import UsedLife
from filtration.study.rules import slug
from filtration.study.values import Study


def stock_of(study: Study, lives: Sequence[UsedLife], rows: Sequence[Reading]) -> Mapping[str, int]:
    """Return the elements in store by name, after every row in order.

    Parameters
    ----------
    study : Study
        The study.
    lives : sequence of UsedLife
        What was fitted, in order.
    rows : sequence of Reading
        In order. What was bought without a name is of the option then in use; of one visit it comes before fitting.

    Returns
    -------
    mapping of str to int
        Without those of which there is none; an option takes its elements from the store where there are any.
    """
    store = Counter[str]()
    fitted = deque(lives)
    for row in (each for each in rows if each.kind == "bought"):
        while fitted and fitted[0].new < row.when:
            _take(store, fitted.popleft())
        in_use = lives[max(0, bisect_right(lives, row.when, key=lambda life: life.new) - 1)]
        stages = [element.name for element in in_use.entry.option.stages]
        for name in stages if row.item is None else filter(None, [element_named(study, row.item)]):
            store[name] += row.count or 0
    for life in fitted:
        _take(store, life)
    return {name: count for name, count in store.items() if count}


def element_named(study: Study, item: str) -> str | None:
    """Return the name of the element that the id of a name stands for, or of an option of one; None for none."""
    ids = {option.id: option.stages[0].name for option in study.options if len(option.stages) == 1}
    return (ids | {slug(name, place): name for place, name in enumerate(study.elements, 1)}).get(item)


def _take(store: Counter[str], life: UsedLife) -> None:
    """Take what a life was begun with out of the store, as far as it is there."""
    option = life.entry.option
    for element in option.stages:
        store[element.name] -= min(store[element.name], option.housings_in_parallel)
