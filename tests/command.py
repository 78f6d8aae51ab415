"""The command, run as a person runs it but in this process."""

import contextlib
import io
import sys
from dataclasses import dataclass

import pytest

from filtration.cli.commands import main


@dataclass(frozen=True)
class Done:
    """What a command printed, and its exit status."""

    returncode: int
    stdout: str
    stderr: str


def run(*words: str) -> Done:
    """Run the command in this process."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        patch.setattr(sys, "argv", ["filtration", *words])
        with pytest.raises(SystemExit) as stopped:
            main()
    status = stopped.value.code
    return Done(int(status or 0), out.getvalue(), err.getvalue())
