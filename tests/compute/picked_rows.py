"""A farm's invented weighings and intakes as the rules of findings see them, from a seed.

Honest but untidy: fruit differs by season, grade and picking, crates are filled unevenly and the
last one partly, blocks yield twice or half of what they did, a block has a late second crop, and
some days are entered by hand while the rest comes in files.
"""

import datetime as dt
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import ceil
from random import Random
from uuid import UUID

from planning.compute.findings import Ground, Load, Range, Row, RowKind, Trees

TODAY = dt.date(2026, 12, 1)
SUGAR_APPLE = Range(least_g=113, most_g=682, source="for this test")
CRATE_TARE_G, CRATE_NET_G = 1_500, 12_000


@dataclass(slots=True, kw_only=True)
class Farm:
    """A farm's rows as they gather."""

    seed: int
    rng: Random = field(init=False)
    rows: list[Row] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng = Random(self.seed)

    def id(self) -> UUID:
        return UUID(int=self.rng.getrandbits(128))

    @property
    def ground(self) -> Ground:
        blocks = {(row.block, row.day) for row in self.rows if row.block}
        cultivars = {row.cultivar for row in self.rows if row.cultivar}
        return Ground(
            rows=self.rows,
            today=TODAY,
            loads=self.loads,
            trees={place: Trees(standing=90, bearing=80) for place in blocks},
            ranges=dict.fromkeys(cultivars, SUGAR_APPLE),
        )


def farm(seed: int, *, seasons: int = 3, in_crates: bool | None = None) -> Farm:
    """Three seasons of three blocks, about 420 weighings a season, and what a shed received."""
    made = Farm(seed=seed)
    rng = made.rng
    is_crated = rng.random() < 0.5 if in_crates is None else in_crates
    blocks = [(made.id(), f"B{n}", made.id(), rng.uniform(180, 420)) for n in range(3)]
    for year in range(2027 - seasons, 2027):
        source, size = made.id(), rng.uniform(0.9, 1.1)
        for block, code, cultivar, mean_g in blocks:
            load_g = rng.uniform(30_000, 140_000)  # a block yields more one year than another
            for day in _days(rng, year, has_second=rng.random() < 0.2):
                by_hand = rng.random() < 0.1
                picked = [
                    _weighing(
                        made,
                        day=day,
                        season_year=year,
                        season_label=str(year),
                        block=block,
                        block_code=code,
                        cultivar=cultivar,
                        cultivar_name="Ondrela",
                        net=load_g * rng.uniform(0.3, 1.7) / parts,
                        mean_g=mean_g * size * rng.uniform(0.9, 1.1),
                        grade=grade,
                        is_cull=grade == "C",
                        is_crated=is_crated,
                        source=None if by_hand else source,
                    )
                    for grade in "ABC"
                    for parts in [rng.choice((2, 3, 8))]
                    for _ in range(2)
                ]
                made.rows += picked
                _receive(made, picked)
    return made


def _days(rng: Random, year: int, *, has_second: bool) -> list[dt.date]:
    """Twice or three times in two weeks for ten weeks, and a late crop on some blocks."""
    day, days = dt.date(year, 8, 1) + dt.timedelta(days=rng.randrange(20)), []
    until = day + dt.timedelta(weeks=10)
    while day < until:
        days.append(day)
        day += dt.timedelta(days=rng.choice((3, 4, 4, 7, 10)))
    if has_second:
        late = dt.date(year, 11, 3) + dt.timedelta(days=rng.randrange(8))
        days += [late + dt.timedelta(days=4 * n) for n in range(5)]
    return days


def _weighing(made: Farm, *, net: float, mean_g: float, is_crated: bool, **facts: object) -> Row:
    rng = made.rng
    if is_crated:
        crates = ceil(net / (CRATE_NET_G * rng.uniform(0.85, 1.1)))
        tare_g = crates * CRATE_TARE_G
    else:
        crates, tare_g = None, 0
    entered = Decimal(round((net + tare_g) / 100)) / 10
    grams = int(entered * 1000)
    return Row(
        kind=RowKind.WEIGHING,
        id=made.id(),
        version=1,
        number=len(made.rows) + rng.randrange(10),
        weight=entered,
        unit="kg",
        tare_g=tare_g,
        net_g=grams - tare_g,
        containers=crates,
        container="crate" if crates else "",
        usual_net_g=CRATE_NET_G if crates and rng.random() < 2 else None,
        fruit_count=max(1, round(net / mean_g)),
        **facts,  # type: ignore[arg-type]
    )


def _receive(made: Farm, picked: list[Row]) -> None:
    """Most days go to the shed, which finds a little less."""
    if made.rng.random() < 0.3:
        return
    net_g = sum(row.net_g or 0 for row in picked)
    first = picked[0]
    grams = round(net_g * made.rng.uniform(0.965, 1.002) / 100) * 100
    intake = replace(
        first,
        kind=RowKind.INTAKE,
        id=made.id(),
        day=first.day + dt.timedelta(days=made.rng.randrange(3)),
        weight=Decimal(grams) / 1000,
        net_g=grams,
        tare_g=0,
        containers=None,
        container="",
        fruit_count=None,
        grade="",
        docket=f"G{len(made.loads)}",
        source=None,
        co_op=UUID(int=1),
    )
    made.rows.append(intake)
    made.loads.append(Load(picked=picked, received=[intake]))


def as_pounds(row: Row) -> Row:
    """The row as it is if the scale showed pounds and kilos were written: 2.2046 times too much."""
    return scaled(row, 1 / Decimal("0.45359237"))


def scaled(row: Row, factor: Decimal) -> Row:
    """The row with another figure on the scale."""
    weight = ((row.weight or Decimal(0)) * factor).quantize(Decimal("0.0001"))
    return replace(row, weight=weight, net_g=round(weight * 1000) - row.tare_g)


def with_rows(made: Farm, changed: dict[UUID, Row]) -> Ground:
    """The farm with some rows as they were entered wrongly, in its loads too."""
    made.rows = [changed.get(row.id, row) for row in made.rows]
    made.loads = [
        Load(
            picked=[changed.get(row.id, row) for row in load.picked],
            received=[changed.get(row.id, row) for row in load.received],
        )
        for load in made.loads
    ]
    return made.ground
