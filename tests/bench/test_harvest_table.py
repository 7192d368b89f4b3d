"""The consolidated table of a large co-op, over the API, against the best GROUP BY by hand.

The limit's side reads the same rows with the same figures: days of membership, grades that are no
culls, estimates apart. It is told by hand which days the season was picked on. Whole seasons are
asked for twice: before anything is added up, and from stored roll-ups.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.db import connection
from rest_framework.test import APIClient

from planning.models import SeenRecords
from planning.services.season_summaries import rebuild_co_op
from records.models import CoOp, Job, Person
from tests.bench.frame import Bench
from tests.bench.harvests import A_SEASON, FIRST_YEAR, add_seasons, grow
from tests.cast import client_of

GOAL = 1.3
GOAL_OF_ROLL_UPS = 0.1
TODAY = dt.date(2027, 1, 1)
SUMS = """
sum(w.net_g)::bigint,
sum(CASE WHEN w.net_g IS NULL THEN w.estimated_from_containers_g END)::bigint,
sum(w.net_g) FILTER (WHERE grade.is_marketable)::bigint,
sum(w.net_g) FILTER (WHERE NOT grade.is_marketable)::bigint,
sum(w.fruit_count)::bigint, sum(w.net_g) FILTER (WHERE w.fruit_count IS NOT NULL)::bigint,
sum(w.fruit_count) FILTER (WHERE w.net_g IS NOT NULL)::bigint, count(*)
"""
BY_HAND = """
SELECT {keys}, {sums} FROM records_harvestweight w
JOIN records_membership member ON member.farm_id = w.farm_id AND member.co_op_id = %(co_op)s
    AND w.picked_on >= member.starts_on
    AND (member.ends_on IS NULL OR w.picked_on <= member.ends_on)
LEFT JOIN records_grade grade ON grade.id = w.grade_id
LEFT JOIN records_grademapping mapping ON mapping.grade_id = w.grade_id
WHERE w.retired_on IS NULL AND w.picked_on BETWEEN %(first)s AND %(last)s
GROUP BY {keys}
"""
WEEK = "(w.picked_on - date '0001-01-01') / 7"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """A question, and the same by hand: of the last season, or of some days of it."""

    asked: str
    by_hand: str
    days: tuple[str, str] | None = None

    def query(self, year: int) -> dict[str, str]:
        if self.days is None:
            return {"group_by": self.asked, "season": str(year)}
        first, last = self.days
        return {"group_by": self.asked, "from": f"{year}-{first}", "to": f"{year}-{last}"}

    def statement(self) -> str:
        return BY_HAND.format(keys=self.by_hand, sums=SUMS)

    def span(self, year: int) -> dict[str, str]:
        if self.days is None:
            return {"first": f"{year}-07-01", "last": f"{year}-12-31"}
        return dict(zip(("first", "last"), (f"{year}-{day}" for day in self.days), strict=True))


GROUPINGS = [
    Grouping(asked="member", by_hand="w.farm_id"),
    Grouping(asked="cultivar,week", by_hand=f"w.cultivar_id, {WEEK}"),
    Grouping(asked="block", by_hand="w.block_id"),
    Grouping(asked="member,cultivar", by_hand="w.farm_id, w.cultivar_id", days=("07-01", "12-31")),
    Grouping(asked="grade", by_hand="mapping.co_op_grade_id", days=("09-01", "09-30")),
]
OF_ROLL_UPS = [
    Grouping(asked="cultivar", by_hand="w.cultivar_id"),
    Grouping(asked="grade", by_hand="mapping.co_op_grade_id"),
    Grouping(asked="cultivar,week", by_hand=f"w.cultivar_id, {WEEK}"),
    Grouping(asked="member", by_hand="w.farm_id"),
]


def test_a_table_takes_little_more_than_a_group_by(bench: Bench, committed: None) -> None:
    farms = bench.size(1_000, 3)
    co_op, known = grow(farms, bench.size(5, 1)), bench.size(5, 1)
    measure(bench, co_op, known)
    measure_roll_ups(bench, co_op, known)
    later = bench.size(24, 2)
    add_seasons(known, later)
    measure(bench, co_op, later)


def measure(bench: Bench, co_op: CoOp, seasons: int) -> None:
    forget_jobs()
    compare(bench, co_op, seasons, GROUPINGS, GOAL, "records")


def measure_roll_ups(bench: Bench, co_op: CoOp, seasons: int) -> None:
    """Once: how many seasons are stored besides, no roll-up of this one tells."""
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    forget_jobs()
    compare(bench, co_op, seasons, OF_ROLL_UPS, GOAL_OF_ROLL_UPS, "stored roll-ups")
    forget_roll_ups()


def forget_jobs() -> None:
    """Nobody does them here: what they would do is done at once, or not at all."""
    Job.objects.all().delete()


def forget_roll_ups() -> None:
    """Seasons are added with triggers set aside, so no job tells that these are out of date."""
    SeenRecords.objects.all().delete()


def compare(
    bench: Bench,
    co_op: CoOp,
    seasons: int,
    groupings: Sequence[Grouping],
    goal: float,
    source: str,
) -> None:
    year = FIRST_YEAR + seasons - 1
    staff = client_of(Person.objects.get(email="staff@large.example"))
    rows = seasons * co_op.memberships.count() * A_SEASON
    for grouping in groupings:
        by_hand = summed(grouping, co_op, year)
        answer = ask(grouping, co_op, year, staff).json()
        assert answer["inputs"]["read_from"] == source
        assert len(by_hand) == len(answer["results"]) > 0
        assert sum(row[-8] for row in by_hand) == round(1000 * answer["totals"][0]["net_kg"])
        what = "season" if grouping.days is None else " to ".join(grouping.days)
        bench.at_most(
            goal,
            f"harvest by {grouping.asked}, {what}, from {source}, of {rows:,} weighings",
            limit=partial(summed, grouping, co_op, year),
            ours=partial(ask, grouping, co_op, year, staff),
        )


def summed(grouping: Grouping, co_op: CoOp, year: int) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(grouping.statement(), {"co_op": co_op.pk, **grouping.span(year)})
        return cursor.fetchall()


def ask(grouping: Grouping, co_op: CoOp, year: int, staff: APIClient) -> Any:
    """Up to the answer's bytes."""
    answer = staff.get(f"/api/v1/co-ops/{co_op.pk}/harvest", grouping.query(year))
    assert answer.status_code == 200, answer.content
    return answer
