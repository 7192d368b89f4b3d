"""What a row is to become: the facts of a record, the rows below it, and what it is known by."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from records.importing.recording.seeking import Seeker


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """`key` is what a later file's row is known again by, among those of its kind.

    `facts` are by field, `below` are rows as `saving.save` takes them, `first` are facts that only
    a new record gets.
    """

    key: tuple[Any, ...]
    facts: Mapping[str, Any]
    below: Mapping[str, list[Any]] = field(default_factory=dict)
    first: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """How the rows of a kind of file become records of `model`.

    `said_in` says in which columns a fact, or a row below, is said where that is no column of its
    own name; what a sheet has no column for stays as it is stored. Of rows with an equal key, the
    second, third ... are known by their number as well, unless there can be only one such record:
    then `only_one` names the column where that is told. A key is of one series of files, or of all
    if there can be only one.
    """

    model: type[Any]
    draft: Callable[[Seeker], Draft]
    said_in: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    only_one: str = ""

    def columns(self, name: str) -> tuple[str, ...]:
        return self.said_in.get(name, (name,))
