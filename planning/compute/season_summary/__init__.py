"""A season in figures: the harvest of one block, crop, cultivar, farm or co-op, and its work.

Kilos have a basis: `picked` (farm weighings, by the day of picking), `received` (net at intake)
or `packed` (by grade after sorting, rejects being culls), the last two by the day of receipt.
Kilos of different bases are never added together: the same fruit may be in each.

Grams are whole numbers and are added as such, so the order of the weighings never matters.

Measured and estimated kilos are never added together. Yields, shares, curve and percentile
dates use measured kilos only; estimated kilos (containers or fruit that met no scale) stand
beside them, with a caution in `reasons`. First and last picking dates are days on which fruit
was picked, weighed or not.

* marketable share = marketable / graded kilos; ungraded share = ungraded / all kilos
* mean fruit weight = grams / fruit, over the weighings that have both
* kg per tree = kilos / bearing trees; t/ha = kilos / area (1 kg/m2 = 10 t/ha)
* the 10, 50 and 90 % dates are the first on which the running total reaches that share of the
  total
* the weekly curve counts Monday weeks (ISO 8601), so that the curves of farms whose seasons
  start in different months add up week by week; weeks without picking are in it, at nought
* kg per hour of picking = kilos / hours, over the weighings that have both a weight and minutes;
  those without either are in neither
* minutes are of all people together, by kind of work; picking and pollination are such kinds
* spread between trees, over weighings of exactly one tree: mean, sample standard deviation
  (n - 1) and coefficient of variation = standard deviation / mean. A tree without a weighing
  is in no denominator.

* a further crop is held against the main crop of its block and season: kilos and minutes as
  ratios, and the days between the 50 % dates

What cannot be known is None, and `reasons` says why in a sentence under the figure's name.
"""

from planning.compute.bases import Basis
from planning.compute.season_summary.crops import CropComparison, against_main
from planning.compute.season_summary.estimates import estimated_g
from planning.compute.season_summary.figures import season_figures
from planning.compute.season_summary.groups import roll_up
from planning.compute.season_summary.values import (
    DayTotal,
    GradeKilos,
    Group,
    SeasonFigures,
    SummaryError,
    Sums,
    TreeSpread,
    TreeTotal,
    WeekKilos,
)

__all__ = [
    "Basis",
    "CropComparison",
    "DayTotal",
    "GradeKilos",
    "Group",
    "SeasonFigures",
    "SummaryError",
    "Sums",
    "TreeSpread",
    "TreeTotal",
    "WeekKilos",
    "against_main",
    "estimated_g",
    "roll_up",
    "season_figures",
]
