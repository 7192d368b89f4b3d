"""A co-op's harvest in one table: its kilos grouped as asked, each row on one basis.

A row is a group of fruit on one basis. A member's season goes by the co-op's basis or what stands
in for it (`planning.compute.bases`), so a group of members that go by different bases is one row a
basis; kilos of different bases are never added together. Beside the kilos on its own basis a row
has those of the same members on every other, for comparison.

* net kilos are weighed; estimated kilos (containers or fruit that met no scale) stand apart
* marketable kilos are of grades that are no culls; ungraded kilos are neither
* payable kilos are weighed and no culls: marketable or ungraded
* mean fruit weight = grams / fruit, over the weighings that have both
* kg per tree = net kilos / bearing trees; t/ha = net kilos / hectares / 1000
* share of the co-op = net kilos / those of all members on this basis, of the same days or season

Trees and hectares are of a season: known where a table is of one season or grouped by season, and
only for groups that have ground of their own. All trees bear in every week and every grade.
"""

from planning.compute.harvest_table.differences import Difference, differences
from planning.compute.harvest_table.figures import share_of, table_rows, totals
from planning.compute.harvest_table.ground import (
    Ground,
    Stand,
    by_cultivar,
    grounds,
    why_no_ground,
)
from planning.compute.harvest_table.questions import (
    GROUND_KEYS,
    Asked,
    Filter,
    Key,
    TableError,
    keys_of,
)
from planning.compute.harvest_table.values import Sums, TableRow

__all__ = [
    "GROUND_KEYS",
    "Asked",
    "Difference",
    "Filter",
    "Ground",
    "Key",
    "Stand",
    "Sums",
    "TableError",
    "TableRow",
    "by_cultivar",
    "differences",
    "grounds",
    "keys_of",
    "share_of",
    "table_rows",
    "totals",
    "why_no_ground",
]
