"""What speaks against closing a co-op's season: one check a subject, in `CHECKS`."""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Min

from planning.choices import FindingState
from planning.models import Finding
from planning.queries.kilos import Whose, Window, kilos_of
from records.choices import ImportKind, ImportState
from records.models import CoOp, Farm, Grade, HarvestImport
from records.seasons import Season

UNSETTLED = (
    ImportState.RECEIVED,
    ImportState.READING,
    ImportState.QUESTION,
    ImportState.CHECKED,
)
KILOS = (ImportKind.HARVEST_WEIGHTS, ImportKind.INTAKES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Objection:
    """What a person should settle first; `code` names its kind."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """The season that is to be closed; `today_in` tells the local date of a time zone."""

    co_op: CoOp
    year: int
    whose: Whose
    today_in: Callable[[str], dt.date]


Check = Callable[[Closing], Iterator[Objection]]


def objections(closing: Closing) -> list[Objection]:
    return [found for check in CHECKS for found in check(closing)]


def running_seasons(closing: Closing) -> Iterator[Objection]:
    """Members whose own season of the year is not over."""
    zones = Farm.objects.filter(pk__in=closing.whose.farm_ids).values_list("pk", "time_zone")
    seasons = [
        season
        for farm_id, zone in zones
        if (season := _season(closing, farm_id)).ends_on >= closing.today_in(zone)
    ]
    if seasons:
        last_on = max(season.ends_on for season in seasons)
        members = _counted(len(seasons), "member")
        text = f"The season of {members} is not over; the last ends on {last_on}."
        yield Objection(code="season-running", text=text)


def unsettled_imports(closing: Closing) -> Iterator[Objection]:
    """Members' files of weighings or intakes that have neither landed nor been refused."""
    waiting = HarvestImport.objects.filter(
        farm_id__in=closing.whose.farm_ids, kind__in=KILOS, state__in=UNSETTLED
    ).aggregate(files=Count("pk"), farms=Count("farm", distinct=True), first=Min("created_at"))
    if waiting["files"]:
        files = _counted(waiting["files"], "file")
        members = _counted(waiting["farms"], "member")
        first_on = f"{waiting['first']:%Y-%m-%d}"
        text = f"Not settled yet: {files} of {members}, the first sent on {first_on}."
        yield Objection(code="imports-unsettled", text=text)


def unmapped_grades(closing: Closing) -> Iterator[Objection]:
    """Grades of members that count as none of the co-op's."""
    rows = kilos_of(
        closing.whose, Window(years=(closing.year,)), ("grade_id", "co_op_grade_id")
    ).rows(
        "SELECT DISTINCT grade_id FROM {kilos}"
        " WHERE grade_id IS NOT NULL AND co_op_grade_id IS NULL"
    )
    grades = Grade.objects.filter(pk__in=[grade_id for (grade_id,) in rows])
    names = sorted(f"{farm} {code}" for farm, code in grades.values_list("farm__code", "code"))
    if names:
        shown = ", ".join(names[:MOST_NAMES]) + (" ..." if len(names) > MOST_NAMES else "")
        text = f"These grades count as none of the co-op's: {shown}."
        yield Objection(code="grades-unmapped", text=text)


def open_findings(closing: Closing) -> Iterator[Objection]:
    """What in the season's weighings and intakes nobody has decided about."""
    found = Finding.objects.of_co_op(closing.co_op.pk).filter(
        season_year=closing.year, state__in=(FindingState.OPEN, FindingState.REVERSED)
    )
    counted = found.aggregate(findings=Count("pk"), farms=Count("farm", distinct=True))
    if counted["findings"]:
        findings = _counted(counted["findings"], "finding")
        members = _counted(counted["farms"], "member")
        yield Objection(code="findings-open", text=f"Not decided yet: {findings} of {members}.")


# In the order in which they are told.
CHECKS: list[Check] = [running_seasons, unsettled_imports, open_findings, unmapped_grades]
MOST_NAMES = 10


def _season(closing: Closing, farm_id: UUID) -> Season:
    return closing.whose.seasons.season_span(farm_id, None, closing.year)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
