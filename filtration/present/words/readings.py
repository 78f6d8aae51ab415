"""What the page of readings says: kinds of rows, what is saved, and what was done."""

from collections.abc import Mapping

from filtration.present.words.phrases import counted
from filtration.readings.reading import Kind, Reading

KINDS: Mapping[Kind, tuple[str, str, str]] = {
    "bucket": (
        "bucket: a timed bucket",
        "10 L in 27.4 s",
        "Let the water that comes back run into a bucket. With the element out, add “without element”.",
    ),
    "flow": ("flow: off a meter", "22 L/min", "What a meter says. With the element out, add “without element”."),
    "column": (
        "column: clear tube before the housing",
        "82 cm",
        "How far the water in the tube stands above that of the tub. It shows the hose after the housing too: read "
        "it once with the element out and log that as well, with “without element”.",
    ),
    "pressure": (
        "pressure: a gauge before the housing",
        "11 kPa",
        "What the gauge says. It shows the hose after the housing too: read it once with the element out and log "
        "that as well, with “without element”.",
    ),
    "rinse": ("rinse: the element was rinsed", "", "Needs no value."),
    "soak": ("soak: it was soaked", "", "Needs no value; a rinse is taken to go along."),
    "replace": ("replace: a new element", "pleated-20", "The option's id from the study; empty for like with like."),
    "uses": ("uses: dips on that day", "9", "All bathers together; the last count of a day holds."),
    "see-through": ("see-through: how far one sees", "3 m", "Under water. Kept; the forecast does not use it."),
    "water": ("water: it was changed", "", "Needs no value. Kept; the forecast does not use it."),
    "note": ("note: a remark", "", "Needs no value; write it under note."),
}
COLUMNS: Mapping[str, tuple[str, str]] = {
    "when": ("When", "As 2026-03-03 or 2026-03-03 18:30; a day alone means its noon."),
    "kind": ("Kind", "What was read or done."),
    "value": ("Value", "With its unit: 10 L in 27.4 s, 22 L/min, 82 cm, 11 kPa; empty for rinse, soak, water."),
    "note": ("Note", "What you like."),
}
NO_LOGBOOK = "This server keeps no logbook. Upload your table to begin, download it before you go."
NOTHING_YET = "No reading yet. Time a bucket under the hose that comes back, and put it in below."
ASK_FITTED = "Nothing says what is fitted, so that no day can be told. What is it, and since when?"
TOO_LONG = "▲ Too many to be carried by the page's address: save or download them, or a reload loses them."
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
    return f"Undone in {path}: {changes}. The table still shows it as it was, as not saved."


def was_brought(fresh: int, known: int, name: str) -> str:
    """Return what came of a file: rows taken into the table, and rows that stood there already."""
    already = f", {known} stood there already" if known else ""
    if not fresh:
        return f"Nothing new in {name}{already}."
    return f"{counted(fresh, 'reading')} of {name} taken into the table{already}. Not saved yet."


def left_out(faulty: int) -> str:
    """Return what becomes of rows with faults."""
    one = faulty == 1
    return f"{'One row does' if one else f'{faulty} rows do'} not count until {'it is' if one else 'they are'} mended."


def when_of(reading: Reading) -> str:
    """Return a row's time as a table shows it, to be read back as it was: 2026-03-03 18:30+01:00, seconds if any."""
    when = reading.when
    whole = not when.second and not when.microsecond
    return when.isoformat(sep=" ", timespec="minutes" if whole else "auto")
