"""Rows and positions as people write them: numbers and ranges, such as "1-6, 8, 10-12"."""

import re
from collections import Counter

MAX_NUMBER = 10_000  # as for the rows and positions of trees
MAX_CHARS = 500
_DASHES = "-\N{EN DASH}\N{EM DASH}"
_PART = re.compile(rf"([0-9]{{1,6}})(?:\s*(?:[{_DASHES}]|to|a)\s*([0-9]{{1,6}}))?")


class SpanError(ValueError):
    """What is wrong with a text of numbers and ranges, as a sentence."""


def parse_spans(text: str) -> list[int]:
    """The numbers meant, in their order; gaps are what is not named. SpanError says what is wrong.

    >>> parse_spans("1-3, 7")
    [1, 2, 3, 7]
    """
    if len(text) > MAX_CHARS:
        raise SpanError(f"At most {MAX_CHARS} characters are read here.")
    parts = [part.strip() for part in re.split(r"[,;+&]", text) if part.strip()]
    if not parts:
        raise SpanError("Give a number or a range, such as 1-25.")
    numbers = [number for part in parts for number in _numbers(part)]
    if len(set(numbers)) < len(numbers):
        twice = next(n for n, count in Counter(numbers).items() if count > 1)
        raise SpanError(f"{twice} is named twice.")
    return numbers


def _numbers(part: str) -> range:
    found = _PART.fullmatch(part.casefold())
    if found is None:
        raise SpanError(f'"{part}" is no number or range, such as 1-25.')
    first, last = int(found[1]), int(found[2] or found[1])
    if last < first:
        raise SpanError(f"{part} runs backwards; write {last}-{first}.")
    if last > MAX_NUMBER:
        raise SpanError(f"Rows and positions go up to {MAX_NUMBER:,}.")
    return range(first, last + 1)


def written_spans(numbers: list[int]) -> str:
    """Numbers in a row as a range: the shortest way to name them."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)
