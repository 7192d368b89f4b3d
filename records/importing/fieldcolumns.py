"""Columns that files of field work have in common: where, who, how long."""

from dataclasses import replace

from records.importing.columns import Column, Kind
from records.importing.harvest import HARVEST

MAX_TREES = 100_000
MAX_TASK_MINUTES = 1_440 * 50  # fifty people for a day

BLOCK, TREE, ROW, POSITION, CULTIVAR, NOTE, FARM = (
    HARVEST.by_name[name]
    for name in ("block", "tree", "row", "position", "cultivar", "note", "farm")
)
PEOPLE = replace(
    HARVEST.by_name["pickers"],
    name="people",
    synonyms=(
        *("people", "workers", "worker", "crew", "done by", "who", "names", "observer"),
        *("personas", "trabajadores", "trabajador", "hecho por", "quién", "observador"),
        *("pessoas", "trabalhadores", "trabalhador", "feito por", "quem"),
    ),
)
MINUTES = replace(
    HARVEST.by_name["minutes"],
    largest=MAX_TASK_MINUTES,
    synonyms=("minutes", "min", "mins", "minutos", "minutes worked", "minutos de trabajo"),
)
TREES_SEEN = Column(
    name="trees_seen",
    kind=Kind.COUNT,
    largest=MAX_TREES,
    synonyms=(
        *("trees seen", "trees at the stage", "seen on", "trees with it"),
        *("árboles en la fase", "plantas en la fase", "visto en"),
        *("árvores na fase", "plantas na fase", "visto em"),
    ),
)
TREES_LOOKED_AT = Column(
    name="trees_looked_at",
    kind=Kind.COUNT,
    largest=MAX_TREES,
    synonyms=(
        *("trees looked at", "trees observed", "trees checked", "number of trees"),
        *("árboles observados", "plantas observadas", "número de árboles"),
        *("árvores observadas", "plantas observadas por bloco", "número de árvores"),
    ),
)


def day_column(name: str, *synonyms: str) -> Column:
    """A date that is the row's own, under the usual words and some more."""
    usual = ("date", "day", "fecha", "día", "data")
    return Column(name=name, kind=Kind.DATE, synonyms=(*usual, *synonyms))
