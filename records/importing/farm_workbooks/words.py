"""What the words of a workbook mean: codes and names of records, as the caller may use them."""

from collections.abc import Iterable, Iterator
from typing import Any, Generic, TypeVar

from records.importing.lookups import nearest
from records.importing.units import fold

Meant = TypeVar("Meant")


class Words(Generic[Meant]):
    """Records by code or name. What is new in the workbook is added as it is stored."""

    def __init__(self, what: str, known: Iterable[tuple[str, Meant]] = ()) -> None:
        self.what = what
        self._by_word: dict[str, Meant] = {}
        self._spellings: dict[str, str] = {}
        for word, record in known:
            self.add(word, record)

    def add(self, word: str, record: Meant) -> None:
        """The first meaning of a word holds."""
        if word:
            self._by_word.setdefault(fold(word), record)
            self._spellings.setdefault(word.casefold(), word)

    def get(self, word: str) -> Meant | None:
        return self._by_word.get(fold(word))

    def unknown(self, word: str) -> str:
        """A sentence that says so, and what is spelled most like it."""
        return f'There is no {self.what} "{word}". {nearest(word, self._spellings)}'

    def besides(self, others: "Words[Meant]") -> "Words[Meant]":
        """These words, and what others mean where these mean nothing."""
        both = Words[Meant](self.what)
        both._by_word = {**others._by_word, **self._by_word}
        both._spellings = {**others._spellings, **self._spellings}
        return both


def named(records: Iterable[Any], *fields: str) -> Iterator[tuple[str, Any]]:
    """Records by each of these fields, all by the first before any by the second."""
    kept = list(records)
    return ((getattr(record, field), record) for field in fields for record in kept)
