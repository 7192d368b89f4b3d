"""Units: how senders spell them, and what they are in the unit that is kept.

Grams a unit are exact by definition: NIST Handbook 44, Appendix C (value from memory). So are the
inch of 25.4 mm, the mile of 1,609.344 m, and the degrees of NIST Special Publication 811,
Appendix B (values from memory).
"""

import unicodedata
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from functools import lru_cache

GRAMS = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "t": Decimal(1_000_000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}

# "ton" is left out on purpose: it is 1,000 kg to some and 2,000 lb to others.
SPELLINGS = {
    "g": "g gr grs gram grams gramme grammes gramo gramos grama gramas",
    "kg": "kg kgs kgr kilo kilos kilogram kilograms kilogramme kilogrammes kilogramo kilogramos "
    "quilo quilos quilograma quilogramas kilograma kilogramas",
    "t": "t tonne tonnes tonelada toneladas",
    "oz": "oz ounce ounces onza onzas onça onças",
    "lb": "lb lbs pound pounds libra libras",
}


MM = {"mm": Decimal(1), "cm": Decimal(10), "in": Decimal("25.4")}
METRES_A_SECOND = {
    "m/s": Fraction(1),
    "km/h": Fraction(1000, 3600),
    "mph": Fraction("1609.344") / 3600,
}

# Folded, "°C" is "c"; the sign for "o" that many keyboards have instead makes it "oc".
TEMPERATURES = {
    "C": "c oc celsius centigrade centigrados",
    "F": "f of fahrenheit",
}
LENGTHS = {
    "mm": "mm millimetre millimetres millimeter millimeters milimetro milimetros l/m2",
    "cm": "cm centimetre centimetres centimeter centimeters centimetro centimetros",
    "in": "in inch inches pulgada pulgadas polegada polegadas pol",
}
SPEEDS = {
    "m/s": "m/s",
    "km/h": "km/h kmh kph",
    "mph": "mph",
}


@lru_cache(maxsize=10_000)
def fold(text: str) -> str:
    """Lower case without accents, marks and doubled spaces: what makes two spellings equal."""
    plain = unicodedata.normalize("NFKD", text).casefold()
    kept = (mark if mark.isalnum() else " " for mark in plain if not unicodedata.combining(mark))
    return " ".join("".join(kept).split())


_UNITS = {fold(word): unit for unit, words in SPELLINGS.items() for word in words.split()}


def unit_spelled(word: str) -> str | None:
    """The unit that a folded word stands for."""
    return _UNITS.get(word)


def to_grams(weight: Decimal, unit: str) -> int:
    """Whole grams, a half rounded to the even one."""
    return int((weight * GRAMS[unit]).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def celsius(degrees: Decimal, unit: str) -> Decimal:
    """To a tenth of a degree, which is what is kept."""
    exact = Fraction(degrees)
    return tenths((exact - 32) * 5 / 9 if unit == "F" else exact)


def millimetres(length: Decimal, unit: str) -> Decimal:
    return tenths(Fraction(length * MM[unit]))


def metres_a_second(speed: Decimal, unit: str) -> Decimal:
    return tenths(Fraction(speed) * METRES_A_SECOND[unit])


def tenths(exact: Fraction) -> Decimal:
    """Rounded once, a half to the even tenth."""
    return Decimal(round(exact * 10)).scaleb(-1)
