"""How an entered weight could have been meant otherwise: in another unit, or another place value.

The pound is 0.45359237 kg exactly (NIST Handbook 44, Appendix C, value from memory): a figure
taken for the other unit is 2.2046 times too high or 0.4536 of what it should be. A slip of the
decimal mark makes a figure 10 or 100 times too high or too low.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from planning.compute.findings.values import Row

POUND_KG = Decimal("0.45359237")
GRAMS = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "t": Decimal(1_000_000),
    "oz": Decimal("28.349523125"),
    "lb": POUND_KG * 1000,
}
PLACES = Decimal("0.0001")  # as a weight is stored
TENFOLD = (Decimal(10), Decimal(100))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A row's weight as it may have been meant; `words` follows "looks like" or "look like".

    Readings of one `name` go together when a whole file has the same slip.
    """

    name: str
    words: str
    weight: Decimal
    unit: str


Readings = Callable[[Row], Iterator[Reading]]


def net_g(row: Row, reading: Reading) -> int:
    """The row's net grams by a reading; below 1 where the containers alone would weigh more."""
    grams = reading.weight * GRAMS[reading.unit]
    return int(grams.quantize(Decimal(1), rounding=ROUND_HALF_EVEN)) - row.tare_g


def of_other_unit(row: Row) -> Iterator[Reading]:
    """Pounds as kilos and kilos as pounds; and figures that were converted once too often."""
    if row.weight is None:
        return
    if row.unit == "kg":
        yield _reading("pounds", "pounds entered as kilos", row.weight, "lb")
    if row.unit == "lb":
        yield _reading("kilos", "kilos entered as pounds", row.weight, "kg")
    if row.unit != "lb":
        again = "kilos that were converted from pounds twice"
        yield _reading("twice-to-kilos", again, row.weight / POUND_KG, row.unit)
    if row.unit != "kg":
        again = "pounds that were converted from kilos twice"
        yield _reading("twice-to-pounds", again, row.weight * POUND_KG, row.unit)


def of_other_place(row: Row) -> Iterator[Reading]:
    """The decimal mark one or two places off."""
    if row.weight is None:
        return
    for times in TENFOLD:
        words = f"{times} times too high"
        yield _reading(f"a-{times}th", words, row.weight / times, row.unit)
        yield _reading(f"{times}-fold", f"{times} times too low", row.weight * times, row.unit)


def _reading(name: str, words: str, weight: Decimal, unit: str) -> Reading:
    rounded = weight.quantize(PLACES, rounding=ROUND_HALF_EVEN)
    return Reading(name=name, words=words, weight=rounded, unit=unit)
