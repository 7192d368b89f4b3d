"""Kilos as one relation in SQL, composed of the joins that its columns need."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import connection

from planning.compute.bases import Basis
from planning.queries import kilo_sources as parts
from planning.queries.kilo_sources import Grades, Source
from planning.queries.season_spans import SeasonSpans, season_spans
from records.calendars import Calendar

COLUMNS = (
    "farm_id",
    "block_id",
    "cultivar_id",
    "species_id",
    "grade_id",
    "co_op_grade_id",
    "reject_reason",
    "marketable",
    "crop_id",
    "crop_name",
    "season_year",
    "day",
    "basis",
    "member_basis",
    "net_g",
    "estimated_g",
    "fruit_count",
    "counted_g",
    "counted_fruit",
    "records",
    "docket",
    "row_id",
)
OF_GRADE = {"co_op_grade_id", "marketable"}
NO_CULTIVAR = UUID(int=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Whose:
    """Whose kilos: of a co-op's members, or of farms by themselves.

    `chosen` is the basis that each member goes by where it can. `maps_anew` says whether a grade
    may count as another of the co-op's from a day on.
    """

    co_op_id: UUID | None
    chosen: Basis
    farm_ids: Sequence[UUID]
    seasons: Calendar
    memberships: Sequence[tuple[UUID, dt.date, dt.date | None]] = ()
    maps_anew: bool = True

    def are_members(self, first_on: dt.date, last_on: dt.date | None) -> bool:
        """Whether each of them is a member on all these days, up to any day without a last."""
        covering = {
            farm_id
            for farm_id, starts_on, ends_on in self.memberships
            if starts_on <= first_on
            and (ends_on is None or (last_on is not None and last_on <= ends_on))
        }
        return covering.issuperset(self.farm_ids)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Which of their kilos: of seasons, of days (both ends included), by these bases."""

    years: tuple[int, ...] | None = None
    first_on: dt.date | None = None
    last_on: dt.date | None = None
    bases: tuple[Basis, ...] = tuple(Basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberBases:
    """The basis of each member and season: that of `others`, else the default."""

    default: Basis
    others: Mapping[tuple[UUID, int], Basis]

    def of(self, farm_id: UUID, year: int) -> Basis:
        return self.others.get((farm_id, year), self.default)


BY_WEIGHINGS = MemberBases(default=Basis.PICKED, others={})


@dataclass(frozen=True, slots=True, kw_only=True)
class FruitMeans:
    """Mean fruit weight in grams, by farm, season and cultivar, and by farm."""

    of_seasons: Mapping[tuple[UUID, int, UUID | None], float]
    of_farms: Mapping[UUID, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relation:
    """A SELECT with named parameters, to stand in a FROM."""

    sql: str
    params: Mapping[str, Any]

    def rows(self, outer: str, **params: Any) -> list[Any]:
        """What a statement makes of the relation, which it calls `{kilos}`."""
        with connection.cursor() as cursor:
            cursor.execute(outer.format(kilos=f"({self.sql}) kilos"), {**self.params, **params})
            return cursor.fetchall()

    def write(self, outer: str, **params: Any) -> int:
        """How many rows a statement wrote from the relation, which it calls `{kilos}`."""
        with connection.cursor() as cursor:
            cursor.execute(outer.format(kilos=f"({self.sql}) kilos"), {**self.params, **params})
            return cursor.rowcount


@dataclass(frozen=True, kw_only=True)
class Question:
    """Which columns of which kilos; `bases` and `means` where the columns need them."""

    whose: Whose
    window: Window
    columns: Sequence[str]
    bases: MemberBases = BY_WEIGHINGS
    means: FruitMeans | None = None

    def relation(self) -> Relation:
        sources = [source for basis in self.window.bases for source in self._sources(basis)]
        params: dict[str, Any] = {
            "farms": list(self.whose.farm_ids),
            "co_op": self.whose.co_op_id,
            "first_on": self.window.first_on,
            "last_on": self.window.last_on,
        }
        if self.needs_season:
            params |= self._of_spans()
        if self._by_farm:
            params |= self._of_season()
        if self.bases.others:
            params |= _of_bases(self.bases)
        if self.means:
            params |= _of_means(self.means)
        return Relation(sql="\nUNION ALL\n".join(map(self._select, sources)), params=params)

    # What is joined --------------------------------------------------------------------------

    @property
    def needs_season(self) -> bool:
        """Whether a row's season is told, or decides about the row."""
        return (
            self.window.years is not None
            or "season_year" in self.columns
            or (bool(self.bases.others) and "member_basis" in self.columns)
            or (self.means is not None and "estimated_g" in self.columns)
        )

    @cached_property
    def spans(self) -> SeasonSpans:
        years = years_of(self.whose) if self.window.years is None else self.window.years
        return season_spans(self.whose.seasons, self.whose.farm_ids, years)

    @property
    def is_one_season(self) -> bool:
        return len(self.window.years or ()) == 1

    @property
    def _by_farm(self) -> bool:
        """One season, by calendars of farms: found by its days and crops, and nothing is joined."""
        return self.is_one_season and not self.spans.by_block

    def _of_season(self) -> dict[str, Any]:
        """The farms of each calendar with the season's days, and the season's crops."""
        params: dict[str, Any] = {}
        for n, (farms, season) in enumerate(self.spans.by_calendar()):
            params |= {f"farms_{n}": farms}
            params |= {f"first_{n}": season.starts_on, f"last_{n}": season.ends_on}
        if Basis.PICKED not in self.window.bases:
            return params
        day = "coalesce(bloom_began_on, opened_on)"
        statement = parts.CROPS_OF_SEASON.format(seasons=self._seasons("", day))
        with connection.cursor() as cursor:
            cursor.execute(statement, params)
            return {**params, "season_crops": [crop_id for (crop_id,) in cursor.fetchall()]}

    def _seasons(self, alias: str, day: str) -> str:
        """Whether a day is of the season that is asked for, by its farm's own calendar."""
        number = len(self.spans.calendars)
        arms = [parts.SEASON_OF_FARMS.format(n=n, day=day) for n in range(number)]
        return " OR ".join(f"({alias}{arm})" for arm in arms) or "false"

    def _of_spans(self) -> dict[str, Any]:
        ends = {"season_first": self.spans.first_on, "season_last": self.spans.last_on}
        if self.spans.common is None:
            return {**ends, **self.spans.arrays()}
        return {
            **ends,
            "season_years": [season.year for season in self.spans.common],
            "season_firsts": [season.starts_on for season in self.spans.common],
            "season_lasts": [season.ends_on for season in self.spans.common],
        }

    def _sources(self, basis: Basis) -> tuple[Source, ...]:
        if basis is Basis.RECEIVED:
            return (parts.RECEIVED,)
        if basis is Basis.PACKED:
            return (parts.PACKED,)
        if self._by_farm:
            has_crop = "crop_name" in self.columns
            return (parts.PICKED_WITH_CROP if has_crop else parts.PICKED,)
        if self.window.years is not None:
            return parts.PICKED_OF_CROPS, parts.PICKED_WITHOUT_CROP
        if self.needs_season or "crop_name" in self.columns:
            return (parts.PICKED_WITH_CROP,)
        return (parts.PICKED,)

    def _select(self, source: Source) -> str:
        columns = ", ".join(f"{self._column(source, name)} AS {name}" for name in self.columns)
        joins = "\n".join(self._joins(source))
        conditions = " AND ".join(self._conditions(source))
        return f"SELECT {columns}\nFROM {source.tables}\n{joins}\nWHERE {conditions}"

    def _column(self, source: Source, name: str) -> str:
        if name == "season_year":
            return self._season_year
        if name == "member_basis":
            return self._member_basis
        if name == "estimated_g" and source.basis is Basis.PICKED:
            estimate = parts.BY_FRUIT if self.means else parts.BY_CONTAINERS
            return f"CASE WHEN w.net_g IS NULL THEN {estimate} ELSE 0 END"
        if name in OF_GRADE and source.grade:
            return source.columns[name].format(
                mapped_to=self.grades.mapped_to.format(day=source.day),
                marketable=self.grades.marketable.format(day=source.day),
            )
        return source.columns[name]

    @property
    def grades(self) -> Grades:
        if self.whose.co_op_id is None:
            return parts.FARMS_OWN
        return parts.MAPPED_ANEW if self.whose.maps_anew else parts.MAPPED_ONCE

    @property
    def _season_year(self) -> str:
        return str(self.spans.years[0]) if self._by_farm else "season.year"

    @property
    def _member_basis(self) -> str:
        default = f"'{self.bases.default}'::text"
        return f"coalesce(member_basis.name, {default})" if self.bases.others else default

    def _joins(self, source: Source) -> Iterator[str]:
        asked = set(self.columns)
        if self.whose.co_op_id and not self._are_members:
            yield parts.MEMBERSHIP.format(farm_id=source.farm_id, day=source.day)
        if self.needs_season and not self._by_farm:
            season = parts.SEASON if self.spans.common is None else parts.COMMON_SEASON
            yield season.format(place=self._place(source), season_day=source.season_day)
        if "species_id" in asked:
            yield parts.CULTIVAR.format(cultivar_id=source.cultivar_id)
        if source.grade and asked & OF_GRADE:
            yield self.grades.join.format(grade=source.grade, day=source.day)
        if source.basis is Basis.PACKED and asked & OF_GRADE:
            yield parts.SORTED_AS
        if "member_basis" in asked and self.bases.others:
            yield parts.MEMBER_BASIS.format(farm_id=source.farm_id, season_year=self._season_year)
        if "estimated_g" in asked and self.means and source.basis is Basis.PICKED:
            yield parts.FRUIT_MEANS.format(season_year=self._season_year)

    def _place(self, source: Source) -> str:
        if self.spans.by_block:
            return f"coalesce({source.block_id}, {source.farm_id})"
        return source.farm_id

    @cached_property
    def _are_members(self) -> bool:
        """Whether all asked for are members on all days asked for, so that no day is looked up."""
        first_on = self.window.first_on
        return first_on is not None and self.whose.are_members(first_on, self.window.last_on)

    def _conditions(self, source: Source) -> Iterator[str]:
        yield source.kept
        if self._by_farm:
            seasons = self._seasons(f"{source.alias}.", source.day)
            picked = source.basis is Basis.PICKED
            yield parts.OF_SEASON.format(seasons=seasons) if picked else f"({seasons})"
        else:
            yield f"{source.farm_id} = ANY(%(farms)s)"
        if self.window.years is not None and not self._by_farm:
            yield f"{source.season_day} BETWEEN %(season_first)s AND %(season_last)s"
        if self.window.first_on:
            yield f"{source.day} >= %(first_on)s"
        if self.window.last_on:
            yield f"{source.day} <= %(last_on)s"
        if self.whose.co_op_id and source.basis is not Basis.PICKED:
            yield "(i.co_op_id = %(co_op)s OR i.co_op_id IS NULL)"


YEARS = """
SELECT min(extract(year FROM day))::int, max(extract(year FROM day))::int
FROM (
    SELECT min(coalesce(bloom_began_on, opened_on)) AS day
    FROM records_crop WHERE farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT max(coalesce(bloom_began_on, opened_on))
    FROM records_crop WHERE farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT day FROM unnest(%(farms)s) AS farm (id)
    CROSS JOIN LATERAL (
        SELECT min(picked_on) AS day FROM records_harvestweight WHERE farm_id = farm.id
        UNION ALL
        SELECT max(picked_on) FROM records_harvestweight WHERE farm_id = farm.id
        UNION ALL
        SELECT min(received_on) FROM records_intake WHERE farm_id = farm.id
        UNION ALL
        SELECT max(received_on) FROM records_intake WHERE farm_id = farm.id
    ) ends
) days
"""


def years_of(whose: Whose) -> range:
    """The years in which any season of theirs can have started."""
    with connection.cursor() as cursor:
        cursor.execute(YEARS, {"farms": list(whose.farm_ids)})
        first, last = cursor.fetchone()
    return range(0) if first is None else range(first - 1, last + 1)


def _of_bases(bases: MemberBases) -> dict[str, list[Any]]:
    return {
        "basis_farms": [farm_id for farm_id, _ in bases.others],
        "basis_years": [year for _, year in bases.others],
        "basis_names": [str(basis) for basis in bases.others.values()],
    }


def _of_means(means: FruitMeans) -> dict[str, Any]:
    return {
        "mean_farms": [farm_id for farm_id, _, _ in means.of_seasons],
        "mean_years": [year for _, year, _ in means.of_seasons],
        "mean_cultivars": [cultivar or NO_CULTIVAR for _, _, cultivar in means.of_seasons],
        "season_means": list(means.of_seasons.values()),
        "whole_farms": list(means.of_farms),
        "farm_means": list(means.of_farms.values()),
        "no_cultivar": NO_CULTIVAR,
    }
