"""Temperature and the life of a flower.

Growth starts at about 7 C in cherimoya and about 10 C in atemoya (du Preez, Annonas and
Carambolas, ACOTANC 2001). Base temperatures of the other species were looked for and not found.
"""

from planning.compute.figures.values import Declared, Shipped

_DU_PREEZ = "du Preez, ACOTANC 2001: growth starts at about this temperature"
_NO_BASE = "No published base temperature was found: enter the farm's own."
_NOT_TREATED = ("sugar-apple", "soursop", "custard-apple")
_ALL = ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple")

DECLARED = {
    "base-temperature": Declared(
        meaning="Below it nothing grows: the lower threshold of degree days",
        unit="C",
        lowest=-5,
        highest=25,
    ),
    "base-temperature-least": Declared(
        meaning="The lowest base temperature that a fit may find", unit="C", lowest=-5, highest=25
    ),
    "base-temperature-most": Declared(
        meaning="The highest base temperature that a fit may find", unit="C", lowest=-5, highest=25
    ),
    "upper-temperature": Declared(
        meaning="Above it growth is no faster: the upper threshold of degree days",
        unit="C",
        lowest=15,
        highest=50,
    ),
    "receptive-days": Declared(
        meaning="Days on which a flower can be pollinated by hand",
        unit="days",
        lowest=0.25,
        highest=5,
    ),
}

SHIPPED = (
    Shipped(name="base-temperature", of=("cherimoya",), value=7, source=_DU_PREEZ),
    Shipped(name="base-temperature", of=("atemoya",), value=10, source=_DU_PREEZ),
    Shipped(name="base-temperature", of=_NOT_TREATED, value=None, reason=_NO_BASE),
    Shipped(
        name="base-temperature-least",
        of=("cherimoya",),
        value=2,
        source="assumed: five degrees to either side of the published base",
        is_weak=True,
    ),
    Shipped(
        name="base-temperature-most",
        of=("cherimoya",),
        value=12,
        source="assumed: five degrees to either side of the published base",
        is_weak=True,
    ),
    Shipped(
        name="base-temperature-least",
        of=("atemoya",),
        value=5,
        source="assumed: five degrees to either side of the published base",
        is_weak=True,
    ),
    Shipped(
        name="base-temperature-most",
        of=("atemoya",),
        value=15,
        source="assumed: five degrees to either side of the published base",
        is_weak=True,
    ),
    Shipped(
        name="base-temperature-least",
        of=_NOT_TREATED,
        value=5,
        source="assumed, no source",
        is_weak=True,
    ),
    Shipped(
        name="base-temperature-most",
        of=_NOT_TREATED,
        value=18,
        source="assumed, no source",
        is_weak=True,
    ),
    Shipped(
        name="upper-temperature",
        of=_ALL,
        value=None,
        reason="No published upper threshold was found, so none is applied.",
    ),
    Shipped(
        name="receptive-days",
        of=("sugar-apple", "atemoya", "soursop", "custard-apple"),
        value=1,
        source="common practice, no source: a flower is female on one day",
    ),
    Shipped(
        name="receptive-days",
        of=("cherimoya",),
        value=1,
        source="Pinto et al. 2005, s. 10.3.4: about 90 % set on the first day, falling to 8 % on"
        " the fifth",
    ),
)
