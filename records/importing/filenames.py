"""Which farm a file is from, by the words of its folders and its name. Nothing is guessed:
whatever points to more than one farm is left for a person to decide.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from uuid import UUID

_COMMON = """
harvest harvests week weekly weight weights weighing weighings kilo kilos kg picking pickings
sheet sheets book data file files copy new final export report list table farm member season
scan image document
colheita colheitas semana semanal peso pesos pesagem pesagens apanha folha dados ficheiro
ficheiros arquivo copia novo lista tabela quinta socio membro epoca documento
cosecha cosechas pesaje pesajes recoleccion hoja datos archivo archivos nuevo tabla finca
miembro temporada
"""
_MONTHS = """
january february march april may june july august september october november december
jan feb mar apr jun jul aug sep sept oct nov dec
janeiro fevereiro marco abril maio junho julho agosto setembro outubro novembro dezembro
fev abr mai ago set out dez
enero febrero marzo mayo junio julio septiembre setiembre octubre noviembre diciembre
ene dic
"""
# Words that any farm's files may have in their names: they tell no farm from another.
COMMON_WORDS = frozenset(_COMMON.split())
MONTHS = frozenset(_MONTHS.split())

MAX_WORDS = 40  # of a name; nobody writes more

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFarm:
    """A farm that the sender sees; `name` is empty where it may not be known to them."""

    id: UUID
    code: str
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The farms that a file may be from, and what points to them."""

    farms: tuple[KnownFarm, ...] = ()
    reason: str = ""


class Matcher:
    """Matches files to farms.

    `earlier` maps the pattern of a file name (see `pattern_of`) to the farms for which files so
    named have landed; `only_farm` says that the sender can send for no other.
    """

    def __init__(
        self,
        farms: Sequence[KnownFarm],
        *,
        earlier: Mapping[str, Collection[UUID]] | None = None,
        only_farm: bool = False,
    ) -> None:
        self.farms = farms
        self.earlier = earlier or {}
        self.only_farm = only_farm and len(farms) == 1
        self.codes = _by_words((words_of(farm.code), farm) for farm in farms)
        self.names = _by_words((words_of(farm.name), farm) for farm in farms)
        self.longest = max((len(words) for words in (*self.codes, *self.names)), default=0)

    def match(self, folders: Sequence[str], file_name: str) -> Match:
        """By the folder, then by the name, then by earlier files of that name."""
        by_folder = self._in_folders(folders)
        by_name = self._in_name(PurePath(file_name).stem)
        if by_folder or by_name:
            return _agreed(by_folder, by_name)
        earlier = self.earlier.get(pattern_of(file_name), ())
        if by_earlier := [farm for farm in self.farms if farm.id in earlier]:
            return _told(by_earlier, "Files of this name, but for digits and dates, landed for")
        if self.only_farm:
            return Match(farms=tuple(self.farms), reason="You send files for this farm alone.")
        return Match(reason="Neither the folder nor the name of the file says whose it is.")

    def _in_folders(self, folders: Sequence[str]) -> list[KnownFarm]:
        """By folders that are called as a farm's code, else by those with a code in their names."""
        whole = [farm for folder in folders for farm in self.codes.get(words_of(folder), ())]
        within = [farm for one in folders for farm in self._said(words_of(one), self.codes)]
        return _once(whole or within)

    def _in_name(self, stem: str) -> list[KnownFarm]:
        words = words_of(stem)
        return _once([*self._said(words, self.codes), *self._said(words, self.names)])

    def _said(self, words: Words, known: Mapping[Words, list[KnownFarm]]) -> Iterator[KnownFarm]:
        """Farms whose code or name is among the words, in a row."""
        words = words[:MAX_WORDS]
        for start in range(len(words)):
            for end in range(start + 1, min(start + self.longest, len(words)) + 1):
                if any(map(_tells, words[start:end])):
                    yield from known.get(words[start:end], ())


def _by_words(farms: Iterable[tuple[Words, KnownFarm]]) -> dict[Words, list[KnownFarm]]:
    found: dict[Words, list[KnownFarm]] = defaultdict(list)
    for words, farm in farms:
        if words:
            found[words].append(farm)
    return found


def _once(farms: Iterable[KnownFarm]) -> list[KnownFarm]:
    return list(dict.fromkeys(farms))


def pattern_of(file_name: str) -> str:
    """A file name without digits and dates; empty if what is left could be any farm's."""
    words = words_of(re.sub(r"\d+", " ", PurePath(file_name).stem))
    said = [word for word in words if word not in MONTHS]
    return " ".join(said) if any(map(_tells, said)) else ""


def _tells(word: str) -> bool:
    """Whether a word can tell one farm from another: no number, letter, month or common word."""
    is_short = len(word) == 1 or word.isdigit()
    return not is_short and word not in COMMON_WORDS and word not in MONTHS


def words_of(text: str) -> Words:
    """Words without accents and case, parted by whatever is no letter and no digit."""
    parts = unicodedata.normalize("NFKD", text)
    bare = "".join(sign for sign in parts if not unicodedata.combining(sign)).casefold()
    return tuple(word for word in re.split(r"[\W_]+", bare) if word)


def _agreed(by_folder: list[KnownFarm], by_name: list[KnownFarm]) -> Match:
    if not by_name:
        return _told(by_folder, "The folder has the code of")
    if not by_folder:
        return _told(by_name, "The file name has the code or name of")
    if both := [farm for farm in by_folder if farm in by_name]:
        return _told(both, "Folder and file name have the code or name of")
    text = f"The folder has the code of {_codes(by_folder)}, the file name that of"
    text = f"{text} {_codes(by_name)}."
    return Match(farms=(*by_folder, *by_name), reason=text)


def _told(farms: Collection[KnownFarm], by_what: str) -> Match:
    return Match(farms=tuple(farms), reason=f"{by_what} {_codes(farms)}.")


def _codes(farms: Iterable[KnownFarm]) -> str:
    codes = [farm.code for farm in farms]
    shown = codes[:10] + ([f"{len(codes) - 10} more"] if len(codes) > 10 else [])
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
