"""When each block of a farm is best pruned this season: computed when it is asked for."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.choices import RuleTrigger, StageAhead, WorkKind
from planning.compute.figures import Figure
from planning.compute.next_tasks import DateWindow
from planning.compute.pruning_window import (
    CalendarDays,
    LeafOut,
    Margins,
    Window,
    WindowError,
    pruning_window,
)
from planning.models import TaskRule
from planning.queries.block_seasons import MAIN_CROP
from planning.queries.figures import figures_of
from planning.queries.plantings import Planted, planted_blocks
from planning.queries.schedules import blocks_in_use
from planning.queries.stage_forecasts import StageDate, stages_ahead
from planning.queries.task_rules import month_day, rules_on
from records.calendars import calendar
from records.models import Block, Farm, Species, TaskLog
from records.seasons import Season

MARGINS = (
    "pruning-opens-before-leaf-out",
    "pruning-best-before-leaf-out",
    "pruning-latest-after-leaf-out",
)
NO_SPECIES = "No trees or planting lines of a known species are recorded here."
NO_CALENDAR = (
    "Leaf-out is not known yet, and no pruning between days of the year is among the rules"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockWindow:
    """The window of one block and season; `pruned_on` is the season's first pruning on record."""

    block: Block
    species: Species | None
    season: Season
    window: Window
    pruned_on: dt.date | None
    figures: Sequence[Figure]


def pruning_windows(farm: Farm, today: dt.date, year: int | None = None) -> list[BlockWindow]:
    """Of a season (this one, unless a year says otherwise), in ten queries."""
    seasons, blocks = calendar([farm]), blocks_in_use(farm, today)
    year = seasons.season_of(farm.pk, None, today).year if year is None else year
    spans = {block.pk: seasons.season_span(farm.pk, block.pk, year) for block in blocks}
    planted, figures = planted_blocks(blocks, today), figures_of(farm.pk)
    leaf_outs = _leaf_outs(stages_ahead(farm.pk), year)
    rules = list(TaskRule.objects.filter(farm=farm, kind=WorkKind.PRUNING))
    pruned = _pruned(spans)
    found = []
    for block in blocks:
        kind = planted[block.pk].main if block.pk in planted else None
        used = [figures.figure(kind.code, name) for name in MARGINS] if kind else []
        found.append(
            BlockWindow(
                block=block,
                species=kind,
                season=spans[block.pk],
                window=_window(
                    leaf_outs.get(block.pk),
                    used,
                    _calendar_days(rules, block, planted.get(block.pk), spans[block.pk]),
                ),
                pruned_on=pruned.get(block.pk),
                figures=used,
            )
        )
    return found


def _leaf_outs(ahead: Mapping[UUID, Sequence[StageDate]], year: int) -> dict[UUID, StageDate]:
    return {
        block_id: stage
        for block_id, stages in ahead.items()
        for stage in stages
        if stage.season_year == year
        and stage.crop_name == MAIN_CROP
        and stage.stage == StageAhead.LEAF_OUT
    }


def _window(
    stage: StageDate | None, figures: Sequence[Figure], days: CalendarDays | None
) -> Window:
    try:
        return pruning_window(
            leaf_out=_leaf_out(stage),
            margins=_margins(figures),
            calendar=days,
            why_not=_why_not(stage, figures),
        )
    except WindowError as error:
        return pruning_window(
            leaf_out=None, margins=None, calendar=days, why_not=f"{str(error).capitalize()}."
        )


def _leaf_out(stage: StageDate | None) -> LeafOut | None:
    if stage is None or stage.on_date is None:
        return None
    if stage.is_brought_on:
        return _before_pruning(stage)
    is_seen = stage.observed_on is not None
    return LeafOut(
        on=stage.on_date,
        early=None if is_seen else stage.low_on,
        late=None if is_seen else stage.high_on,
        is_seen=is_seen,
    )


def _before_pruning(stage: StageDate) -> LeafOut | None:
    """Leaf-out as it was expected before pruning brought it on."""
    if stage.expected_on is None:
        return None
    return LeafOut(
        on=stage.expected_on,
        early=stage.expected_low_on,
        late=stage.expected_high_on,
        is_seen=False,
    )


def _margins(figures: Sequence[Figure]) -> Margins | None:
    opens, best, latest = (figure.value for figure in figures) if figures else (None, None, None)
    if opens is None or best is None or latest is None:
        return None
    return Margins(opens_before=opens, best_before=best, latest_after=latest)


def _why_not(stage: StageDate | None, figures: Sequence[Figure]) -> str:
    if not figures:
        return NO_SPECIES
    if _margins(figures) is None:
        return next(figure.reason for figure in figures if figure.value is None)
    return f"{NO_CALENDAR}. {stage.reason}" if stage else f"{NO_CALENDAR}."


def _calendar_days(
    rules: Iterable[TaskRule], block: Block, planted: Planted | None, season: Season
) -> CalendarDays | None:
    """The days of the block's own rule of dates, as they fall in the season."""
    near = rules_on(rules, block.pk, planted.main.pk if planted else None)
    dated = [rule for rule in near if rule.is_active and rule.trigger == RuleTrigger.DATES]
    for rule in dated:
        days = DateWindow(
            opens=month_day(rule.opens_on_day),
            best=month_day(rule.best_on_day),
            closes=month_day(rule.closes_on_day),
            because=rule.because,
        )
        for year in range(season.starts_on.year, season.ends_on.year + 1):
            window = days.around(year)
            if season.starts_on <= window.best <= season.ends_on:
                return CalendarDays(
                    opens_on=window.opens,
                    best_on=window.best,
                    latest_on=window.closes,
                    because=rule.because,
                )
    return None


def _pruned(spans: Mapping[UUID, Season]) -> dict[UUID, dt.date]:
    """The first pruning on record of each block's season."""
    first = min((span.starts_on for span in spans.values()), default=dt.date.max)
    rows = TaskLog.objects.filter(
        block_id__in=spans, kind=WorkKind.PRUNING, done_on__gte=first, retired_on=None
    )
    found: dict[UUID, dt.date] = {}
    for block_id, on in rows.order_by("done_on").values_list("block_id", "done_on"):
        if spans[block_id].starts_on <= on <= spans[block_id].ends_on:
            found.setdefault(block_id, on)
    return found
