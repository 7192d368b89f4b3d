"""Sums of one group on one basis, and the row that they become."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from planning.compute.bases import Basis

GroupKey = tuple[Any, ...]


class Sums(NamedTuple):
    """Fruit of a group on `basis`, of members who go by `member_basis`; whole grams.

    `marketable_g` and `cull_g` are parts of `net_g`; the rest is ungraded. `counted_g` and
    `counted_fruit` are of weighings that have both a weight and a count.
    """

    key: GroupKey
    basis: Basis
    member_basis: Basis
    net_g: int
    estimated_g: int
    marketable_g: int
    cull_g: int
    fruit_count: int
    counted_g: int
    counted_fruit: int
    records: int


@dataclass(slots=True, kw_only=True)
class TableRow:
    """A group's figures on one basis. None is not known; `reasons` says why, figure by figure."""

    key: GroupKey
    basis: Basis
    net_g: int = 0
    estimated_g: int = 0
    marketable_g: int = 0
    cull_g: int = 0
    picked_g: int = 0
    received_g: int = 0
    packed_g: int = 0
    fruit_count: int = 0
    counted_g: int = 0
    counted_fruit: int = 0
    records: int = 0
    bearing_trees: int | None = None
    area_m2: float | None = None
    share: float | None = None
    reasons: Mapping[str, str] = field(default_factory=dict)

    @property
    def payable_g(self) -> int:
        """Weighed and no culls (`planning.compute.bases.is_payable`)."""
        return self.net_g - self.cull_g

    @property
    def ungraded_g(self) -> int:
        return self.net_g - self.cull_g - self.marketable_g

    @property
    def mean_fruit_g(self) -> float | None:
        return self.counted_g / self.counted_fruit if self.counted_fruit else None

    @property
    def kg_per_tree(self) -> float | None:
        return self.net_g / 1000 / self.bearing_trees if self.bearing_trees else None

    @property
    def t_per_ha(self) -> float | None:
        """1 kg/m2 = 10 t/ha."""
        return self.net_g / 1000 / self.area_m2 * 10 if self.area_m2 else None
