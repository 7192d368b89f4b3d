"""What a fruit of a species weighs, as published: the lightest and the heaviest."""

from planning.compute.figures.values import Declared, Shipped

_SUGAR_APPLE = "UF/IFAS Extension HS38 (Crane, Balerdi & Maguire): 113-682 g"
_CHERIMOYA = "Morton 1987, Fruits of Warm Climates: 150-500 g on average, up to 2.7 kg"
_SOURSOP = "Encyclopedia of Food and Health 2016, quoted at second hand: 0.9-10 kg"
_NOT_FOUND = "No published lightest and heaviest fruit was found: enter the farm's own."

DECLARED = {
    "fruit-weight-least": Declared(
        meaning="Weight of the lightest fruit worth picking", unit="g", lowest=1, highest=20000
    ),
    "fruit-weight-most": Declared(
        meaning="Weight of the heaviest fruit", unit="g", lowest=1, highest=20000
    ),
}

SHIPPED = (
    Shipped(name="fruit-weight-least", of=("sugar-apple",), value=113, source=_SUGAR_APPLE),
    Shipped(name="fruit-weight-most", of=("sugar-apple",), value=682, source=_SUGAR_APPLE),
    Shipped(name="fruit-weight-least", of=("cherimoya",), value=150, source=_CHERIMOYA),
    Shipped(name="fruit-weight-most", of=("cherimoya",), value=2700, source=_CHERIMOYA),
    Shipped(name="fruit-weight-least", of=("soursop",), value=900, source=_SOURSOP, is_weak=True),
    Shipped(name="fruit-weight-most", of=("soursop",), value=10000, source=_SOURSOP, is_weak=True),
    # Morton 1987 has the heaviest atemoya (2.25 kg) and no lightest: half a range checks nothing.
    Shipped(
        name="fruit-weight-least",
        of=("atemoya", "custard-apple"),
        value=None,
        reason=_NOT_FOUND,
    ),
    Shipped(
        name="fruit-weight-most",
        of=("atemoya",),
        value=2250,
        source="Morton 1987, Fruits of Warm Climates: up to 2.25 kg",
    ),
    Shipped(name="fruit-weight-most", of=("custard-apple",), value=None, reason=_NOT_FOUND),
)
