"""A co-op of a few farms of every kind, with a season's fruit and more, all from one seed.

Seasons start in different months, on one block on its own; memberships begin and end midway; fruit
is weighed, put into containers or only counted; grades are mapped from a day on, or never; one
crop is picked after New Year; a farm has no weighings, another no intakes, a third both.
"""

import datetime as dt
from dataclasses import dataclass, field
from random import Random
from typing import Any

from records.models import (
    Block,
    CoOp,
    CoOpGrade,
    Crop,
    Cultivar,
    Farm,
    Grade,
    GradeMapping,
    HarvestWeight,
    Intake,
    Membership,
    SeasonStart,
    SortedWeight,
    Species,
)
from tests.cast import make_cultivar

FIRST_ON, DAYS = dt.date(2024, 8, 1), 800
MONTHS = (1, 7, 4)  # in which farms' seasons start
REASONS = ("bruised", "scale insects")


@dataclass(slots=True, kw_only=True)
class Mixed:
    """What was made, and the dice it is made with."""

    dice: Random
    co_op: CoOp
    other: CoOp
    cultivars: list[Cultivar]
    co_op_grades: list[CoOpGrade]
    farms: list[Farm] = field(default_factory=list)

    def day(self) -> dt.date:
        return FIRST_ON + dt.timedelta(days=self.dice.randrange(DAYS))

    def cultivar(self) -> Cultivar | None:
        return self.dice.choice([*self.cultivars, None])


def make_mixed(seed: int, *, farms: int = 4, rows: int = 60, **of_co_op: Any) -> Mixed:
    """A co-op, its farms, and about so many weighings and intakes a farm."""
    co_op = CoOp.objects.create(**{"code": "MIXED", "name": "The co-op", **of_co_op})
    mixed = Mixed(
        dice=Random(seed),
        co_op=co_op,
        other=CoOp.objects.create(code="OTHER", name="Another co-op"),
        cultivars=[make_cultivar("Ondrela"), make_cultivar("Tamisca"), _of_other_species()],
        co_op_grades=[
            CoOpGrade.objects.create(co_op=co_op, code=code, is_marketable=code != "Waste")
            for code in ("First", "Second", "Waste")
        ],
    )
    for number in range(farms):
        _add_farm(mixed, number, rows)
    return mixed


def _of_other_species() -> Cultivar:
    species, _ = Species.objects.get_or_create(
        code="cherimoya",
        defaults={
            "common_name": "cherimoya",
            "scientific_name": "Annona cherimola",
            "bearing_age_years": 4,
            "bearing_age_source": "common practice, no source",
        },
    )
    return Cultivar.objects.create(name="Quervane", species=species)


def _add_farm(mixed: Mixed, number: int, rows: int) -> None:
    farm = Farm.objects.create(
        code=f"FARM{number}",
        name=f"Farm {number}",
        time_zone="Atlantic/Madeira",
        season_start_month=MONTHS[number % 3],
    )
    mixed.farms.append(farm)
    _add_memberships(mixed, farm, number)
    blocks = [Block.objects.create(farm=farm, code=f"B{n}", area_m2=4_000) for n in range(3)]
    if number == 1:
        SeasonStart.objects.create(
            farm=farm, block=blocks[0], applies_from=dt.date(2024, 1, 1), month=3
        )
    grades = _grades(mixed, farm)
    if number % 4 != 1:
        _add_weighings(mixed, farm, blocks, grades, rows)
    if number % 4 != 2:
        _add_intakes(mixed, farm, blocks, grades, rows // 2)


def _add_memberships(mixed: Mixed, farm: Farm, number: int) -> None:
    """All the time; or away in between; or gone before the end."""
    spans: list[tuple[dt.date, dt.date | None]] = [(dt.date(2020, 1, 1), None)]
    if number % 3 == 1:
        spans = [
            (dt.date(2024, 9, 1), dt.date(2025, 6, 30)),
            (dt.date(2025, 9, 1), None),
        ]
    if number % 3 == 2:
        spans = [(dt.date(2025, 2, 1), dt.date(2026, 5, 31))]
    for starts_on, ends_on in spans:
        Membership.objects.create(
            farm=farm, co_op=mixed.co_op, starts_on=starts_on, ends_on=ends_on
        )


def _grades(mixed: Mixed, farm: Farm) -> list[Grade | None]:
    """Mapped always, mapped anew midway, never mapped, and a cull; None is not graded."""
    first, second, waste = mixed.co_op_grades
    own = {
        code: Grade.objects.create(
            farm=farm,
            code=code,
            is_marketable=code != "C",
            cull_reason="cracked skin" if code == "C" else "",
        )
        for code in ("A", "B", "C", "X")
    }
    for code, to, applies_from in (
        ("A", first, dt.date(2020, 1, 1)),
        ("B", first, dt.date(2024, 12, 1)),
        ("B", second, dt.date(2025, 10, 1)),
        ("C", waste, dt.date(2025, 1, 1)),
    ):
        GradeMapping.objects.create(
            farm=farm, grade=own[code], co_op_grade=to, applies_from=applies_from
        )
    return [*own.values(), None]


def _add_weighings(
    mixed: Mixed, farm: Farm, blocks: list[Block], grades: list[Grade | None], rows: int
) -> None:
    crops = {block.pk: _crops(farm, block) for block in blocks[:2]}
    HarvestWeight.objects.bulk_create(
        HarvestWeight(
            farm=farm,
            block=block,
            picked_on=mixed.day(),
            crop=mixed.dice.choice([*crops.get(block.pk, []), None]),
            cultivar=mixed.cultivar(),
            grade=mixed.dice.choice(grades),
            docket=f"D{mixed.dice.randrange(20)}",
            retired_on=mixed.dice.choice([None] * 9 + [dt.date(2026, 1, 1)]),
            **_how_much(mixed.dice),
        )
        for block in mixed.dice.choices(blocks, k=rows)
    )


def _crops(farm: Farm, block: Block) -> list[Crop]:
    """One a year: bloom seen in December, on New Year's eve but one, or not at all."""
    return [
        Crop.objects.create(
            farm=farm,
            block=block,
            name="main",
            opened_by="pruning",
            opened_on=dt.date(year, 11, 20),
            bloom_began_on=bloom,
        )
        for year, bloom in (
            (2023, dt.date(2023, 12, 30)),
            (2024, dt.date(2025, 1, 4)),
            (2025, None),
        )
    ]


def _how_much(dice: Random) -> dict[str, Any]:
    grams, fruit = dice.randrange(500, 40_000), dice.randrange(1, 90)
    kinds: list[dict[str, Any]] = [
        {"weight": 1, "unit": "kg", "net_g": grams},
        {"weight": 1, "unit": "kg", "net_g": grams},
        {"weight": 1, "unit": "kg", "net_g": grams, "fruit_count": fruit},
        {"containers": 2, "estimated_from_containers_g": grams, "fruit_count": fruit},
        {"fruit_count": fruit},
    ]
    return dice.choice(kinds)


def _add_intakes(
    mixed: Mixed, farm: Farm, blocks: list[Block], grades: list[Grade | None], rows: int
) -> None:
    """Of the co-op, of the farm's own shed, or of another co-op; half of them sorted."""
    for _ in range(rows):
        grams = mixed.dice.randrange(5_000, 90_000)
        intake = Intake.objects.create(
            farm=farm,
            block=mixed.dice.choice([*blocks, None]),
            cultivar=mixed.cultivar(),
            received_on=mixed.day(),
            co_op=mixed.dice.choice([mixed.co_op, mixed.co_op, None, mixed.other]),
            docket=f"D{mixed.dice.randrange(20)}",
            weight=1,
            unit="kg",
            net_g=grams,
            retired_on=mixed.dice.choice([None] * 9 + [dt.date(2026, 1, 1)]),
        )
        if mixed.dice.random() < 0.5:
            _sort(mixed, intake, grades)


def _sort(mixed: Mixed, intake: Intake, grades: list[Grade | None]) -> None:
    kinds: list[dict[str, Any]] = [
        {"grade": mixed.dice.choice(grades[:4])},
        {"co_op_grade": mixed.dice.choice(mixed.co_op_grades)},
        {"reject_reason": mixed.dice.choice(REASONS)},
    ]
    for kind in mixed.dice.sample(kinds, 2):
        SortedWeight.objects.create(
            farm_id=intake.farm_id,
            intake=intake,
            weight=1,
            unit="kg",
            net_g=intake.net_g // 3,
            **kind,
        )
