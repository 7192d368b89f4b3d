"""How senders call a row or a column that adds up others, in English, Spanish and Portuguese."""

import re
from functools import lru_cache

from records.importing.sheets import Cell
from records.importing.units import fold

_WORD = r"(?:sub ?)?(?:total|totals|totais|totales)"
_SUM = r"(?:sum|suma|soma)(?: (?:total|parcial))?"
_GRAND = r"(?:grand|gran) total|(?:total|suma|soma) (?:general|geral)"
_HINT = re.compile(r"tot|sum|som", re.IGNORECASE)  # most cells need no closer look
_ALONE = re.compile(rf"{_WORD}|{_SUM}|{_GRAND}")
_OF_SOMETHING = re.compile(rf"(?:grand |gran )?{_WORD}(?: .*)?|{_SUM}|.+ {_WORD}|{_GRAND}")

_MEANS = frozenset({"mean", "average", "avg", "media", "promedio", "medias", "averages", "means"})


def says_total(cell: Cell) -> bool:
    """Whether a row or column is called "Total", "Subtotal Talhão 3", "P1 Total" or the like."""
    return isinstance(cell, str) and bool(_HINT.search(cell)) and _matches(cell)[1]


def is_total_alone(cell: Cell) -> bool:
    """Whether a cell says "Total" or its like and nothing else."""
    return isinstance(cell, str) and bool(_HINT.search(cell)) and _matches(cell)[0]


def is_mean(cell: Cell) -> bool:
    """Whether a row is called "Average" or its like."""
    return isinstance(cell, str) and fold(cell) in _MEANS


@lru_cache(maxsize=10_000)
def _matches(text: str) -> tuple[bool, bool]:
    if not text[:1].isalnum():
        return False, False
    folded = fold(text)
    return bool(_ALONE.fullmatch(folded)), bool(_OF_SOMETHING.fullmatch(folded))
