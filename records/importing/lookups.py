"""What a file's words for blocks, cultivars, grades and containers mean on its farm.

A farm has few of them and a file repeats them, so each different word is looked up once. A word
is a code, or else a name, whatever its case; one that could be two things is not guessed at.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import partial
from itertools import groupby
from operator import itemgetter
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q

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
    known: Callable[[Collection[UUID]], "OfFarms"]


# What words can mean, farm by farm; None stands for what all farms share.
OfFarms = dict[UUID | None, list[Known]]


def _coded(model: Any, farm_ids: Collection[UUID]) -> OfFarms:
    found: OfFarms = defaultdict(list)
    for one in model.objects.filter(farm_id__in=farm_ids).order_by("code"):
        found[one.farm_id].append(Known(one.pk, one.code, one.name))
    return found


def _cultivars(farm_ids: Collection[UUID]) -> OfFarms:
    usable = Cultivar.objects.filter(Q(farm__isnull=True) | Q(farm_id__in=farm_ids))
    found: OfFarms = defaultdict(list)
    for one in usable.order_by("name"):
        found[one.farm_id].append(Known(one.pk, one.name, is_shared=one.farm_id is None))
    return found


LOOKUPS = (
    Lookup(column="block", target="block_id", known=partial(_coded, Block)),
    Lookup(column="cultivar", target="entered_cultivar_id", known=_cultivars),
    Lookup(column="grade", target="grade_id", known=partial(_coded, Grade)),
    Lookup(column="container", target="container_id", known=partial(_coded, Container)),
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
SELECT DISTINCT farm_id, {column} FROM records_stagedweighing
WHERE import_id = %(import)s AND {column} <> '' AND farm_id IS NOT NULL ORDER BY 1, 2
"""

MEAN = """
UPDATE records_stagedweighing s SET {targets}
FROM records_stagedweighing t {joins}
WHERE t.import_id = %(import)s AND s.import_id = %(import)s AND s.entry = t.entry
"""
MEANT = """LEFT JOIN unnest(%({column}_farms)s::uuid[], %({column}_words)s::text[],
                 %({column}_ids)s::uuid[]) {column}_ (farm_id, word, id)
    ON {column}_.farm_id = t.farm_id AND {column}_.word = t.{column}"""

REFUSE = problem_of(
    join="""JOIN unnest(%(farms)s::uuid[], %(words)s::text[], %(codes)s::text[],
                        %(details)s::text[]) k (farm_id, word, code, detail)
        ON s.farm_id = k.farm_id AND s.{column} = k.word""",
    broken="true",
    code="k.code",
    value="k.word",
    detail="k.detail",
)


def known_words(farm_ids: Collection[UUID], columns: Iterable[str]) -> dict[str, list[str]]:
    """The codes and names by which a wide sheet's headings and the names of sheets are known."""
    wanted = (lookup for lookup in LOOKUPS if lookup.column in columns)
    found = {
        lookup.column: dict.fromkeys(
            text
            for known in lookup.known(farm_ids).values()
            for one in known
            for text in (one.code, one.name)
            if text
        )
        for lookup in wanted
    }
    return {column: list(words) for column, words in found.items()}


def look_up_words(staged: Staged) -> None:
    """Set what the words of the staged rows mean; a word that means nothing is a problem."""
    found = {lookup: _verdicts(lookup, staged) for lookup in LOOKUPS}
    said = {lookup: verdicts for lookup, verdicts in found.items() if verdicts}
    values: dict[str, list[Any]] = {}
    for lookup, verdicts in said.items():
        meant = [(farm_id, one) for farm_id, one in verdicts if one.id]
        values[f"{lookup.column}_farms"] = [farm_id for farm_id, _ in meant]
        values[f"{lookup.column}_words"] = [one.word for _, one in meant]
        values[f"{lookup.column}_ids"] = [one.id for _, one in meant]
    if said:
        targets = ", ".join(f"{lookup.target} = {lookup.column}_.id" for lookup in said)
        joins = " ".join(MEANT.format(column=lookup.column) for lookup in said)
        staged.run(MEAN.format(targets=targets, joins=joins), **values)
    for lookup, verdicts in said.items():
        _refuse(staged, lookup, verdicts)


def _refuse(staged: Staged, lookup: Lookup, verdicts: Iterable[tuple[UUID, Verdict]]) -> None:
    wrong = [(farm_id, one.word, one.fault) for farm_id, one in verdicts if one.fault]
    if wrong:
        staged.run(
            REFUSE.format(column=lookup.column),
            heading=staged.heading(lookup.column),
            farms=[farm_id for farm_id, _, _ in wrong],
            words=[word for _, word, _ in wrong],
            codes=[fault.code for _, _, fault in wrong],
            details=[fault.detail for _, _, fault in wrong],
        )


def _verdicts(lookup: Lookup, staged: Staged) -> list[tuple[UUID, Verdict]]:
    """Of every different word of a farm's rows."""
    words = staged.rows(WORDS.format(column=lookup.column))
    known = lookup.known({farm_id for farm_id, _ in words}) if words else {}
    hinted = 0
    verdicts = []
    for farm_id, of_farm in groupby(words, key=itemgetter(0)):
        dictionary = Dictionary(lookup.column, [*known.get(farm_id, ()), *known.get(None, ())])
        for _, word in of_farm:
            verdict = dictionary.look_up(word, with_hint=hinted < MAX_HINTS)
            hinted += verdict.fault is not None
            verdicts.append((farm_id, verdict))
    return verdicts
