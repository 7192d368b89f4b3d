"""Weather that harms open flowers.

Sugar apple sets poorly above 30 C with less than 60 % relative humidity, even when pollinated by
hand; atemoya, cherimoya and sugar apple set poorly at 30 C and 30 %, and much better at 25 C and
80 % (Paull & Duarte 2011, ch. 6). Nothing was found for soursop and custard apple.
"""

from planning.compute.figures.values import Declared, Shipped

_PAULL = "Paull & Duarte 2011, ch. 6"
_ALL = ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple")
_HEATED = ("sugar-apple", "atemoya", "cherimoya")
_OTHERS = ("soursop", "custard-apple")
_NOT_FOUND = "No published limit was found for this species: enter the farm's own."

DECLARED = {
    "frost-in-bloom": Declared(
        meaning="Open flowers are lost at this lowest temperature", unit="C", lowest=-10, highest=5
    ),
    "heat-in-bloom": Declared(
        meaning="Flowers set poorly above this highest temperature, if the air is dry",
        unit="C",
        lowest=20,
        highest=50,
    ),
    "dry-air-in-bloom": Declared(
        meaning="Air with less relative humidity is dry", unit="%", lowest=1, highest=100
    ),
}

SHIPPED = (
    Shipped(
        name="frost-in-bloom",
        of=_ALL,
        value=0,
        source="value from memory: water freezes; flowers may be lost before",
        is_weak=True,
    ),
    Shipped(name="heat-in-bloom", of=_HEATED, value=30, source=f"{_PAULL}: poor set above 30 C"),
    Shipped(name="heat-in-bloom", of=_OTHERS, value=None, reason=_NOT_FOUND),
    Shipped(
        name="dry-air-in-bloom",
        of=("sugar-apple",),
        value=60,
        source=f"{_PAULL}: poor set below 60 % relative humidity",
    ),
    Shipped(
        name="dry-air-in-bloom",
        of=("atemoya", "cherimoya"),
        value=30,
        source=f"{_PAULL}: poor set at 30 C and 30 %, much better at 25 C and 80 %",
    ),
    Shipped(name="dry-air-in-bloom", of=_OTHERS, value=None, reason=_NOT_FOUND),
)
