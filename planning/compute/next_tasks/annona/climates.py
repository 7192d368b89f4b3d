"""Climates, stages and words that the annona rules share."""

from enum import StrEnum

from planning.compute.next_tasks.triggers import DateWindow, Stages
from planning.compute.next_tasks.windows import MonthDay

COMMON = "common practice, no source"
TROPIC_DEG = 23.44  # value from memory

# BBCH general scale (values from memory): 07 bud breaking, 11 first leaf open.
LEAF_OUT = Stages(first=7, last=11, name="leaf-out")
BUDBREAK = Stages(first=7, last=9, name="budbreak")
FIRST_BLOOM = Stages(first=60, last=67, name="first bloom")
END_OF_BLOOM = Stages(first=69, last=69, name="end of bloom")
END_OF_HARVEST = Stages(first=99, last=99, name="end of harvest")


class Climate(StrEnum):
    NORTHERN_SUBTROPICS = "northern-subtropics"
    SOUTHERN_SUBTROPICS = "southern-subtropics"
    TROPICAL_LOWLAND = "tropical-lowland"


def climate_at(latitude_deg: float) -> Climate:
    """The climate to propose by latitude alone; a farm in tropical highland chooses another."""
    if abs(latitude_deg) < TROPIC_DEG:
        return Climate.TROPICAL_LOWLAND
    return Climate.NORTHERN_SUBTROPICS if latitude_deg > 0 else Climate.SOUTHERN_SUBTROPICS


def yearly(
    opens: tuple[int, int], best: tuple[int, int], closes: tuple[int, int], because: str
) -> DateWindow:
    """A window between days given as (month, day)."""
    return DateWindow(
        opens=MonthDay(month=opens[0], day=opens[1]),
        best=MonthDay(month=best[0], day=best[1]),
        closes=MonthDay(month=closes[0], day=closes[1]),
        because=because,
    )
