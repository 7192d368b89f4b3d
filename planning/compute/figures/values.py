"""What a figure is, as declared, as shipped and as in force."""

from collections.abc import Collection
from dataclasses import dataclass


class FigureError(ValueError):
    """A figure that is not declared, or a value that it cannot have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """A figure's meaning in words, its unit ("" for a share or a count) and its range."""

    meaning: str
    unit: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """One value for some species; None where none was found or none applies, with the reason."""

    name: str
    of: Collection[str]
    value: float | None
    source: str = ""
    is_weak: bool = False
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure in force for a species on a farm; `is_own` if the farm gave it.

    `value` is None where none is known or it does not apply; `reason` says which.
    """

    name: str
    value: float | None
    unit: str
    source: str = ""
    is_weak: bool = False
    is_own: bool = False
    reason: str = ""
