"""The figures that planning goes by, species by species: each with its unit and its source.

A farm may put its own in the place of any (`planning.models.SpeciesFigure`). What no source was
found for has no value and says so, or is marked weak. Sources in short:

* Paull & Duarte: Tropical Fruits, 2nd ed., vol. 1 (CABI 2011), ch. 6
* common practice: what growers do, and no source says so
* assumed: neither published nor common practice, there so that a plan can be made at all
"""

from collections.abc import Mapping

from planning.compute.figures import fruit, labour, phenology, pruning, stages, weather
from planning.compute.figures.values import Declared, Figure, FigureError, Shipped

__all__ = [
    "DECLARED",
    "ORDERED",
    "SPECIES",
    "Declared",
    "Figure",
    "FigureError",
    "check",
    "shipped",
]

SUBJECTS = (phenology, stages, pruning, labour, weather, fruit)
SPECIES = ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple")
DECLARED: Mapping[str, Declared] = {
    name: declared for subject in SUBJECTS for name, declared in subject.DECLARED.items()
}
# Figures of which the first is never above the second.
ORDERED = (
    ("base-temperature", "upper-temperature"),
    ("base-temperature-least", "base-temperature-most"),
    ("cut-back-least", "cut-back-most"),
    ("lateral-least-cm", "lateral-most-cm"),
    ("lateral-least-buds", "lateral-most-buds"),
    ("fruit-weight-least", "fruit-weight-most"),
)
NOT_SHIPPED = "No figure is shipped for this species: enter the farm's own."


def shipped(species: str) -> dict[str, Figure]:
    """Every declared figure of a species (its code, "sugar-apple"), by name."""
    found = {
        each.name: each for subject in SUBJECTS for each in subject.SHIPPED if species in each.of
    }
    return {name: _figure(name, found.get(name)) for name in DECLARED}


def check(name: str, value: float) -> Declared:
    """What is declared of a figure; FigureError where a value is none that it can have."""
    declared = DECLARED.get(name)
    if declared is None:
        raise FigureError(f"There is no figure {name}; there are: {', '.join(DECLARED)}.")
    if not declared.lowest <= value <= declared.highest:
        raise FigureError(
            f"{name} is {declared.lowest:g} to {declared.highest:g} {declared.unit}".rstrip()
            + f", not {value:g}."
        )
    return declared


def _figure(name: str, found: Shipped | None) -> Figure:
    unit = DECLARED[name].unit
    if found is None:
        return Figure(name=name, value=None, unit=unit, reason=NOT_SHIPPED)
    return Figure(
        name=name,
        value=found.value,
        unit=unit,
        source=found.source,
        is_weak=found.is_weak,
        reason=found.reason,
    )
