"""What the scale said: gross, tare and net of one row, checked against each other."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Literal, NamedTuple

from records.importing.cells import MAX_WEIGHING_G, TOO_HEAVY, Fault, round_weight
from records.importing.columns import Heading
from records.importing.units import to_grams

ON_THE_SCALE = frozenset({"weight", "gross", "tare", "net"})
WeightIs = Literal["gross", "net"]

# A scale's step and a rounded tare explain this much between gross - tare and net, no more.
AGREEMENT_G = 50
AGREEMENT_SHARE = 0.01


class Weight(NamedTuple):
    """A weight as entered, and in grams."""

    heading: Heading
    entered: Decimal
    unit: str
    grams: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleReading:
    """`weight` is gross where a gross weight was given, else net.

    `tare_total_g` is of all containers together: as entered, else gross - net where both were.
    """

    weight: Weight | None = None
    weight_is: WeightIs | None = None
    tare: Weight | None = None
    tare_total_g: int | None = None


class CellFault(NamedTuple):
    heading: Heading
    fault: Fault


def in_grams(heading: Heading, entered: Decimal, unit: str | None) -> Weight | CellFault:
    """A weight above zero (a tare may be zero) and within reason."""
    if unit is None:
        return CellFault(heading, Fault("unit-missing", "Say in which unit this weight is."))
    settled = _settled(str(entered), unit)
    if isinstance(settled, Fault):
        return CellFault(heading, settled)
    rounded, grams = settled
    if grams == 0 and heading.column.name != "tare":
        return CellFault(heading, Fault("zero-weight", "A weighing of nothing is no weighing."))
    return Weight(heading, rounded, unit, grams)


@lru_cache(maxsize=10_000)
def _settled(entered: str, unit: str) -> tuple[Decimal, int] | Fault:
    """By its text: a cache takes 7 and 7.0 for the same."""
    rounded = round_weight(Decimal(entered), unit)
    if isinstance(rounded, Fault):
        return rounded
    grams = to_grams(rounded, unit)
    return TOO_HEAVY if grams > MAX_WEIGHING_G else (rounded, grams)


def read_scale(weights: Mapping[str, Weight]) -> ScaleReading | CellFault:
    """Settle what gross, tare and net of a row say together; a plain weight counts as gross."""
    gross = weights.get("gross") or weights.get("weight")
    tare, net = weights.get("tare"), weights.get("net")
    fault = _disagreement(gross, tare, net)
    if fault:
        return fault
    tare_total_g = tare.grams if tare else None
    if gross and net and not tare:
        tare_total_g = gross.grams - net.grams
    return ScaleReading(
        weight=gross or net,
        weight_is="gross" if gross else "net" if net else None,
        tare=tare,
        tare_total_g=tare_total_g,
    )


def _disagreement(
    gross: Weight | None, tare: Weight | None, net: Weight | None
) -> CellFault | None:
    if gross and tare and tare.grams >= gross.grams:
        return CellFault(
            tare.heading,
            Fault("tare-above-gross", f"The tare leaves no fruit of {gross.entered} {gross.unit}."),
        )
    if gross and net and net.grams > gross.grams:
        return CellFault(
            net.heading,
            Fault("net-above-gross", f"The net is above the gross {gross.entered} {gross.unit}."),
        )
    if gross and tare and net and not _agree(gross.grams - tare.grams, net.grams):
        return CellFault(
            net.heading,
            Fault(
                "weights-disagree",
                f"Gross {gross.entered} {gross.unit} less tare {tare.entered} {tare.unit} "
                f"is not net {net.entered} {net.unit}. Correct the one that is wrong.",
            ),
        )
    return None


def _agree(reckoned_g: int, net_g: int) -> bool:
    return abs(reckoned_g - net_g) <= max(AGREEMENT_G, AGREEMENT_SHARE * net_g)
