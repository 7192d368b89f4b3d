"""Rows and positions as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.spans import SpanError, parse_spans, written_spans


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("7", [7]),
        ("1-3", [1, 2, 3]),
        ("1 - 3, 6", [1, 2, 3, 6]),  # a gap
        ("1\N{EN DASH}3", [1, 2, 3]),  # as a word processor writes it
        ("2 to 4", [2, 3, 4]),
        ("2 a 4", [2, 3, 4]),  # in Spanish and Portuguese
        ("5; 1", [5, 1]),
        ("0", [0]),
    ],
)
def test_numbers_and_ranges_are_read(text: str, numbers: list[int]) -> None:
    assert parse_spans(text) == numbers


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Give a number"),
        (" , ", "Give a number"),
        ("first", '"first" is no number'),
        ("1-", '"1-" is no number'),
        ("-3", '"-3" is no number'),
        ("1.5", '"1.5" is no number'),
        ("6-1", "runs backwards; write 1-6"),
        ("1-3, 2", "2 is named twice"),
        ("1-10001", "up to 10,000"),
        ("1," * 400, "At most 500 characters"),
    ],
)
def test_what_is_no_number_or_range_is_refused(text: str, says: str) -> None:
    with pytest.raises(SpanError, match=says):
        parse_spans(text)


@given(st.sets(st.integers(0, 60), min_size=1))
def test_written_spans_are_read_as_the_same_numbers(numbers: set[int]) -> None:
    assert parse_spans(written_spans(list(numbers))) == sorted(numbers)
