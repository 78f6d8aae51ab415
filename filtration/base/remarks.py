"""Something to tell the reader, as a kind and its figures: all wording lives in ``present``."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something to tell the reader, to be put into words later: what kind, and the figures in it."""

    kind: str
    figures: Mapping[str, float | str]
