"""What some work takes: seconds of the processor, and how far the memory of this process rises meanwhile."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

KIB_PER_MIB = 1024.0


@dataclass(slots=True)
class Spent:
    """Seconds of the processor, and memory [MB]; known once all is done."""

    seconds: float = 0.0
    megabytes: float = 0.0


def megabytes(process: int | str = "self", which: str = "VmRSS") -> float:
    """Return a figure of a process's memory [MB]."""
    rows = Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines()
    return next(int(row.split()[1]) / KIB_PER_MIB for row in rows if row.startswith(which))


@contextmanager
def spent() -> Iterator[Spent]:
    """Yield what all that is done inside takes."""
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the most memory so far is forgotten
    took, before, start = Spent(), megabytes(), time.process_time()
    yield took
    took.seconds, took.megabytes = time.process_time() - start, megabytes(which="VmHWM") - before
