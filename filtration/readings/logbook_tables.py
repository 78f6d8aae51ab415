"""The tables of a logbook's file, version by version, and what a tub is known by in it."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from filtration.base.errors import InputError
from filtration.base.units import in_unit
from filtration.study.file import load_tables
from filtration.study.values import Study

_SAME = 0.01  # of a volume

# A file of version n is what the first n migrations make; add to the end, never change a released one.
# batch is the change that brought an entry, gone the one that took it out, so that the last change can be undone.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE tub (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 200)
        ) STRICT
        """,
        """
        CREATE TABLE entry (
            id INTEGER PRIMARY KEY,
            tub INTEGER NOT NULL REFERENCES tub (id),
            batch INTEGER NOT NULL CHECK (batch > 0),
            gone INTEGER CHECK (gone > batch),
            at_text TEXT NOT NULL CHECK (at_text GLOB '2[01][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:*'),
            at_utc INTEGER NOT NULL, -- microseconds since 1970
            kind TEXT NOT NULL,
            value TEXT NOT NULL CHECK (length(value) <= 200),
            note TEXT NOT NULL CHECK (length(note) <= 2000),
            CHECK (
                CASE
                    WHEN kind IN ('flow', 'column', 'pressure', 'see-through', 'uses') THEN value GLOB '*[0-9]*'
                    WHEN kind = 'bucket' THEN value GLOB '*[0-9]* in *[0-9]*'
                    WHEN kind = 'replace' THEN value NOT GLOB '*[^-a-z0-9]*'
                    WHEN kind IN ('rinse', 'soak', 'water') THEN value = ''
                    WHEN kind = 'note' THEN value = '' AND note <> ''
                    ELSE 0
                END
            )
        ) STRICT
        """,
        "CREATE INDEX entry_of_tub ON entry (tub, at_utc, id)",
    ),
    (
        "ALTER TABLE tub RENAME TO tub_by_name",
        "ALTER TABLE entry RENAME TO entry_by_name",
        "DROP INDEX entry_of_tub",
        """
        CREATE TABLE tub (
            id INTEGER PRIMARY KEY,
            key TEXT UNIQUE CHECK (length(key) BETWEEN 1 AND 64), -- the study's id; null while it has none
            name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
            litres REAL,
            file TEXT
        ) STRICT
        """,
        "CREATE UNIQUE INDEX tub_of_name ON tub (name) WHERE key IS NULL",
        """
        CREATE TABLE entry (
            id INTEGER PRIMARY KEY,
            tub INTEGER NOT NULL REFERENCES tub (id),
            batch INTEGER NOT NULL CHECK (batch > 0),
            gone INTEGER CHECK (gone > batch),
            at_text TEXT NOT NULL CHECK (at_text GLOB '2[01][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:*'),
            at_utc INTEGER NOT NULL, -- microseconds since 1970
            kind TEXT NOT NULL,
            value TEXT NOT NULL CHECK (length(value) <= 200),
            note TEXT NOT NULL CHECK (length(note) <= 2000),
            CHECK (
                CASE
                    WHEN kind IN ('flow', 'column', 'pressure', 'see-through', 'uses') THEN value GLOB '*[0-9]*'
                    WHEN kind = 'bucket' THEN value GLOB '*[0-9]* in *[0-9]*'
                    WHEN kind = 'bought' THEN value GLOB '[0-9]*'
                    WHEN kind = 'fitted' THEN value <> ''
                    WHEN kind = 'replace' THEN 1
                    WHEN kind IN ('rinse', 'soak', 'water') THEN value = ''
                    WHEN kind = 'note' THEN value = '' AND note <> ''
                    ELSE 0
                END
            )
        ) STRICT
        """,
        "INSERT INTO tub (id, name) SELECT id, name FROM tub_by_name",
        """
        INSERT INTO entry (id, tub, batch, gone, at_text, at_utc, kind, value, note)
        SELECT id, tub, batch, gone, at_text, at_utc, kind, value, note FROM entry_by_name
        """,
        "DROP TABLE entry_by_name",
        "DROP TABLE tub_by_name",
        "CREATE INDEX entry_of_tub ON entry (tub, at_utc, id)",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownAs:
    """What a tub is known by: its study's name, the id that its readings hang on where it has one, volume and file."""

    name: str
    id: str = ""
    litres: float | None = None
    file: str = ""


def known_as(study: Study, file: str | os.PathLike[str] | None = None) -> KnownAs:
    """Return what a tub is known by in a logbook."""
    litres = in_unit(study.tub.volume_m3, "L")
    return KnownAs(name=study.name, id=study.id, litres=litres, file="" if file is None else str(Path(file).resolve()))


def is_another(kept: KnownAs, tub: KnownAs) -> bool:
    """Return whether a tub is another one than its id is known of.

    A file is that of one tub, whatever is changed in it. Where the file it was known by is still there with that id,
    there are two of them: a copy that was changed. Else a name may change, and so may a volume that was measured anew,
    but not both.
    """
    if kept.file and kept.file == tub.file:
        return False
    if kept.file and tub.file and _tables(kept.file).get("id") == tub.id:
        return kept.name != tub.name or _differ(kept.litres, tub.litres)
    return kept.name != tub.name and _differ(kept.litres, tub.litres)


def _differ(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and abs(one - other) > _SAME * max(one, other)


def _tables(file: str) -> Mapping[str, object]:
    try:
        return load_tables(file)
    except InputError:
        return {}
