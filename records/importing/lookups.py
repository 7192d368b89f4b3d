"""What a file's words for blocks, cultivars, grades and containers mean on its farm.

A farm has few of them and a file repeats them, so each different word is looked up once. A word
is a code, or else a name, whatever its case; one that could be two things is not guessed at.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import NamedTuple
from uuid import UUID

from records.importing.cells import Fault
from records.importing.checks import problem_of
from records.importing.staging import Staged
from records.models import Block, Container, Cultivar, Grade

MAX_HINTS = 200  # comparing spellings is slow; a file with more unknown words is the wrong file
SHOWN = 5
CLOSENESS = 0.5


class Known(NamedTuple):
    """Something of the farm's that a word can mean, and how it is called."""

    id: UUID
    code: str
    name: str = ""
    is_shared: bool = False


class Verdict(NamedTuple):
    """What a word means, or what is wrong with it."""

    word: str
    id: UUID | None
    fault: Fault | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lookup:
    """A column of words, the staged column for what they mean, and all that they can mean."""

    column: str
    target: str
    known: Callable[[UUID], Iterable[Known]]


def _blocks(farm_id: UUID) -> Iterable[Known]:
    found = Block.objects.filter(farm_id=farm_id).order_by("code")
    return [Known(block.pk, block.code, block.name) for block in found]


def _grades(farm_id: UUID) -> Iterable[Known]:
    found = Grade.objects.filter(farm_id=farm_id).order_by("code")
    return [Known(grade.pk, grade.code, grade.name) for grade in found]


def _containers(farm_id: UUID) -> Iterable[Known]:
    found = Container.objects.filter(farm_id=farm_id).order_by("code")
    return [Known(container.pk, container.code, container.name) for container in found]


def _cultivars(farm_id: UUID) -> Iterable[Known]:
    found = Cultivar.objects.usable_on(farm_id).order_by("name")
    return [Known(one.pk, one.name, is_shared=one.farm_id is None) for one in found]


LOOKUPS = (
    Lookup(column="block", target="block_id", known=_blocks),
    Lookup(column="cultivar", target="entered_cultivar_id", known=_cultivars),
    Lookup(column="grade", target="grade_id", known=_grades),
    Lookup(column="container", target="container_id", known=_containers),
)


@dataclass(slots=True)
class Dictionary:
    """The words of one column, by the way in which they may be written, the surest way first."""

    what: str
    known: Sequence[Known]
    by_rank: list[dict[str, list[UUID]]] = field(init=False)
    spellings: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        own = [one for one in self.known if not one.is_shared]
        self.by_rank = [
            _index((one.code, one.id) for one in own),
            _index((one.code.casefold(), one.id) for one in own),
            _index((one.name.casefold(), one.id) for one in own if one.name),
            _index((one.code.casefold(), one.id) for one in self.known if one.is_shared),
        ]
        self.spellings = {
            text.casefold(): one.code for one in self.known for text in (one.code, one.name) if text
        }

    def look_up(self, word: str, *, with_hint: bool = True) -> Verdict:
        folded = word.casefold()
        for index, key in zip(self.by_rank, (word, folded, folded, folded), strict=True):
            found = index.get(key, [])
            if len(found) == 1:
                return Verdict(word, found[0], None)
            if found:
                detail = f"More than one {self.what} of the farm is called so."
                return Verdict(word, None, Fault(f"ambiguous-{self.what}", detail))
        return Verdict(word, None, self._unknown(word, with_hint))

    def _unknown(self, word: str, with_hint: bool) -> Fault:
        detail = f"The farm has no {self.what} of this code or name."
        hint = nearest(word, self.spellings) if with_hint else ""
        return Fault(f"unknown-{self.what}", f"{detail} {hint}".strip())


def _index(pairs: Iterable[tuple[str, UUID]]) -> dict[str, list[UUID]]:
    index: dict[str, list[UUID]] = defaultdict(list)
    for text, key in pairs:
        index[text].append(key)
    return index


def nearest(word: str, spellings: dict[str, str]) -> str:
    """A sentence that names what is spelled most like a word; {folded spelling: code}."""
    close = get_close_matches(word.casefold(), spellings, n=3, cutoff=CLOSENESS)
    if close:
        return f"Is it {' or '.join(dict.fromkeys(spellings[text] for text in close))}?"
    codes = list(dict.fromkeys(spellings.values()))
    if not codes:
        return "There is none yet."
    more = " and others" if len(codes) > SHOWN else ""
    return f"Known are {', '.join(codes[:SHOWN])}{more}."


WORDS = """
SELECT DISTINCT {column} FROM records_stagedweighing
WHERE import_id = %(import)s AND {column} <> '' ORDER BY 1
"""

MEAN = """
UPDATE records_stagedweighing s SET {target} = k.id
FROM unnest(%(words)s::text[], %(ids)s::uuid[]) k (word, id)
WHERE s.import_id = %(import)s AND s.{column} = k.word
"""

REFUSE = problem_of(
    join="""JOIN unnest(%(words)s::text[], %(codes)s::text[], %(details)s::text[])
                 k (word, code, detail) ON s.{column} = k.word""",
    broken="true",
    code="k.code",
    value="k.word",
    detail="k.detail",
)


def known_words(farm_id: UUID, columns: Iterable[str]) -> dict[str, list[str]]:
    """The codes and names by which a wide sheet's headings and the names of sheets are known."""
    wanted = (lookup for lookup in LOOKUPS if lookup.column in columns)
    return {
        lookup.column: [
            text for one in lookup.known(farm_id) for text in (one.code, one.name) if text
        ]
        for lookup in wanted
    }


def look_up_words(staged: Staged) -> None:
    """Set what the words of the staged rows mean; a word that means nothing is a problem."""
    for lookup in LOOKUPS:
        _look_up(staged, lookup)


def _look_up(staged: Staged, lookup: Lookup) -> None:
    columns = {"column": lookup.column, "target": lookup.target}
    words = [word for (word,) in staged.rows(WORDS.format(**columns))]
    verdicts = _verdicts(lookup, words, staged.harvest_import.farm_id)
    meant = [one for one in verdicts if one.id]
    staged.run(
        MEAN.format(**columns),
        words=[one.word for one in meant],
        ids=[one.id for one in meant],
    )
    faults = {one.word: one.fault for one in verdicts if one.fault}
    staged.run(
        REFUSE.format(**columns),
        heading=staged.heading(lookup.column),
        words=list(faults),
        codes=[fault.code for fault in faults.values()],
        details=[fault.detail for fault in faults.values()],
    )


def _verdicts(lookup: Lookup, words: Sequence[str], farm_id: UUID) -> list[Verdict]:
    if not words:
        return []
    dictionary = Dictionary(lookup.column, list(lookup.known(farm_id)))
    hinted = 0
    verdicts = []
    for word in words:
        verdict = dictionary.look_up(word, with_hint=hinted < MAX_HINTS)
        hinted += verdict.fault is not None
        verdicts.append(verdict)
    return verdicts
