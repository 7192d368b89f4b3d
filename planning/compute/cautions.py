"""Usual cautions for work that can hurt. They train nobody and license nothing.

Common practice, no source. A product's label, local law and licensed practice come first.
"""

LADDERS = "Stand ladders on firm, level ground, never reach out sideways, and do not work alone."
TOOLS = (
    "Saws and power tools: wear eye, ear and hand protection, and do as the maker's manual says."
)
HEAT = "In hot weather work in the cool hours, drink often, rest in the shade and watch each other."
SPRAYS = (
    "Sprays: do as the product's label and local law say, with the gear the label names; keep"
    " people out for the re-entry interval and do not pick before the pre-harvest interval ends."
    " A licensed adviser decides in doubt."
)
FIRST = "The label, local law and licensed practice come before anything said here."

_BY_KIND: dict[str, tuple[str, ...]] = {
    "pruning": (LADDERS, TOOLS, HEAT),
    "leaf-stripping": (LADDERS, SPRAYS, HEAT),
    "pollination": (LADDERS, HEAT),
    "bagging": (LADDERS, HEAT),
    "counting": (LADDERS, HEAT),
    "thinning": (LADDERS, HEAT),
    "picking": (LADDERS, HEAT),
    "spraying": (SPRAYS, HEAT),
    "irrigation": (HEAT,),
    "fertilising": (HEAT,),
    "weeding": (TOOLS, SPRAYS, HEAT),
    "training": (LADDERS, HEAT),
    "other": (HEAT,),
}


_BY_ALERT: dict[str, tuple[str, ...]] = {"dry-heat": (HEAT, FIRST)}


def alert_cautions(kind: str) -> tuple[str, ...]:
    """What to mind where what an alert tells can hurt people."""
    return _BY_ALERT.get(kind, ())


def cautions(kind: str) -> tuple[str, ...]:
    """What to mind with a kind of work, and what comes before it."""
    return (*_BY_KIND[kind], FIRST)
