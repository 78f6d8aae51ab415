"""The two ways a request can fail."""


class InputError(ValueError):
    """The input is wrong. Carries every fault found, one readable line each.

    Parameters
    ----------
    *faults : str
        One line a fault: what is wrong, the allowed range, the unit, what came, and where.

    Examples
    --------
    >>> InputError("study.toml, [tub] volume: must be more than 0 L, got '-3 L'").faults
    ("study.toml, [tub] volume: must be more than 0 L, got '-3 L'",)
    """

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults: tuple[str, ...] = faults

    def __reduce__(self) -> tuple[type["InputError"], tuple[str, ...]]:
        """Keep every fault when the error travels between processes."""
        return type(self), self.faults


class NoAnswerError(Exception):
    """The input is good, but physics gives no answer; the message says why."""
