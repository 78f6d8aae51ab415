"""What the page of readings says: kinds of rows, what is saved, and what was done."""

from collections.abc import Iterable

from filtration.present.words.forecast import told
from filtration.present.words.phrases import counted, number
from filtration.present.words.sentences import listed, named
from filtration.readings.logbook_tables import KnownAs
from filtration.readings.reading import Reading
from filtration.readings.record import Doubt

KINDS, COLUMNS = listed("kinds_of_readings"), named("columns_of_readings")
NO_LOGBOOK = "This server keeps no logbook. Upload your table to begin, download it before you go."
ORDER = "Of one time, what was read counts before what was done; a day alone is one time."
NOTHING_YET = "No reading yet. Time a bucket under the hose that comes back, and put it in below."
ASK_FITTED = "Nothing says what is fitted, so that no day can be told. What is it, and since when?"
TOO_LONG = "▲ Too many to be carried by the page's address: save or download them, or a reload loses them."
_FEW = 5
ANYWAY = "A forecast leaves it out, and says so; the logbook keeps it."
CARRIED = "The page's address carries them over a reload."


def _changes(*counts: tuple[int, str], word: str = "") -> str:
    """Return what changed and by how many rows, of which none are left out."""
    return ", ".join(f"{counted(count, word) if word else count} {what}" for count, what in counts if count)


def saved_state(name: str, saved: int, new: int, gone: int, path: str | None) -> str:
    """Return what is saved and what is not.

    Parameters
    ----------
    name : str
        The tub.
    saved, new, gone : int
        Rows in the logbook, rows only in the table, and rows of the logbook that the table has no more.
    path : str or None
        The logbook; None where there is none.

    Returns
    -------
    str
        A sentence or two.
    """
    if path is None:
        return f"Not saved anywhere: {counted(new, 'reading')}." if new else "Nothing here yet."
    changes = _changes((new, "new or changed"), (gone, "taken out"), word="reading")
    kept = f"Saved for {name}: {counted(saved, 'reading')} in {path}."
    return f"{kept} Not saved yet: {changes}." if changes else f"{kept} Nothing is unsaved."


def was_saved(added: int, gone: int, total: int, path: str) -> str:
    """Return what a click saved: rows that came, that went, and that there are now in the logbook."""
    return f"Saved: {_changes((added, 'added'), (gone, 'taken out'))}; {counted(total, 'reading')} in all, in {path}."


def was_undone(out: int, back: int, path: str) -> str:
    """Return what undoing the last save did: rows taken out of the logbook, and brought back."""
    changes = _changes((out, "taken out again"), (back, "back again"), word="reading")
    if not changes:
        return f"Nothing to undo in {path}."
    return f"Undone in {path}: {changes}."


def was_brought(fresh: int, known: int, name: str) -> str:
    """Return what came of a file: rows taken into the table, and rows that stood there already."""
    already = f", {known} stood there already" if known else ""
    if not fresh:
        return f"Nothing new in {name}{already}."
    return f"{counted(fresh, 'reading')} of {name} taken into the table{already}."


def left_out(faulty: int) -> str:
    """Return what becomes of rows with faults."""
    one = faulty == 1
    return f"{'One row does' if one else f'{faulty} rows do'} not count until {'it is' if one else 'they are'} mended."


def the_latest(shown: int, count: int) -> str:
    """Return that a table shows the latest rows alone."""
    return f"The table shows the latest {shown:,} of {count:,} readings; all of them count."


def when_of(reading: Reading) -> str:
    """Return a row's time as a table shows it, to be read back as it was: 2026-03-03 18:30+01:00, seconds if any."""
    when = reading.when
    whole = not when.second and not when.microsecond
    return when.isoformat(sep=" ", timespec="minutes" if whole else "auto")


def not_taken(doubts: Iterable[Doubt]) -> list[str]:
    """Return why new rows are not taken, as a forecast would leave them out."""
    return [f"{which}: {why}" for which, why in map(told, doubts)]


def another(kept: KnownAs, tub: KnownAs) -> str:
    """Return that an id is that of another tub, and what to do."""
    known, this = (_tub(each) for each in (kept, tub))
    return (
        f"Two tubs have the id {tub.id}: the logbook knows it as that of {known}, this is {this}. If it is another "
        f"tub, take the line with the id out of this study: the next log add makes one of its own. If it is the same "
        f"tub, say so: filtration log rename {tub.file or 'STUDY'}"
    )


def _tub(known: KnownAs) -> str:
    litres = "" if known.litres is None else f", {number(known.litres, 3)} L"
    return f"{known.name!r}{litres}{f', {known.file}' if known.file else ''}"


def kept_elsewhere(tub: KnownAs, tubs: Iterable[tuple[KnownAs, int]]) -> str:
    """Return which readings a logbook keeps under other names, of which some may be this tub's; empty for none."""
    others = [(each, count) for each, count in tubs if count and (each.id or each.name) != (tub.id or tub.name)]
    like = [(each, count) for each, count in others if each.name == tub.name] or others
    if not like:
        return ""
    listed = "; ".join(f"{each.name!r}{f' ({each.id})' if each.id else ''}: {count}" for each, count in like[:_FEW])
    more = f"; {len(like) - _FEW} more" if len(like) > _FEW else ""
    return (
        f"The logbook has readings of {listed}{more}. If one of them is this tub under another name: "
        f"filtration log rename {tub.file or 'STUDY'} --was '{like[0][0].id or like[0][0].name}'"
    )
