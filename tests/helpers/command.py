"""The command, run as a person runs it but in this process, where a study is worked out once a session."""

import contextlib
import io
import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
import studies

from filtration.answers import assumptions, ranking
from filtration.cli.commands import main


@dataclass(frozen=True)
class Done:
    """What a command printed, and its exit status."""

    returncode: int
    stdout: str
    stderr: str


class Terminal(io.TextIOWrapper):
    """A terminal that takes what its encoding can carry alone."""

    def __init__(self, encoding: str) -> None:
        self.taken = io.BytesIO()
        super().__init__(self.taken, encoding=encoding, newline="\n", write_through=True)

    def getvalue(self) -> str:
        """Return what was written."""
        return self.taken.getvalue().decode(self.encoding)


def run(*words: str, encoding: str = "") -> Done:
    """Run the command in this process; with an encoding, on a terminal that knows it alone.

    The answer to a study, and what it leans on, are taken from whoever asked for the same before.
    """
    out, err = (Terminal(encoding) if encoding else io.StringIO() for _ in range(2))
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        patch.setattr(sys, "argv", ["filtration", *words])
        patch.setattr(ranking, "central_of", studies.central)
        patch.setattr(ranking, "ranked", studies.ranked)
        patch.setattr(assumptions, "assumptions_of", studies.leaning)
        with pytest.raises(SystemExit) as stopped:
            main()
    status = stopped.value.code
    return Done(int(status or 0), out.getvalue(), err.getvalue())


def write(folder: Path, text: str | bytes) -> Path:
    """Write a study."""
    path = folder / "study.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def numbers_in(value: object) -> list[float]:
    """Return every number of a document."""
    if isinstance(value, dict):
        return [number for each in value.values() for number in numbers_in(each)]
    if isinstance(value, list):
        return [number for each in value for number in numbers_in(each)]
    return [value] if isinstance(value, int | float) else []


def toml(data: Mapping[str, object]) -> str:
    """Write tables back as TOML, inline: enough for studies."""

    def value(given: object) -> str:
        if isinstance(given, dict):
            return "{" + ", ".join(f"{key} = {value(each)}" for key, each in given.items()) + "}"
        if isinstance(given, list):
            return "[" + ", ".join(map(value, given)) + "]"
        return json.dumps(given)

    return "\n".join(f"{key} = {value(given)}" for key, given in data.items())
