"""Units of weight: how senders spell them, and what they are in grams.

Grams a unit are exact by definition: NIST Handbook 44, Appendix C (value from memory).
"""

import unicodedata
from decimal import ROUND_HALF_EVEN, Decimal
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
