"""The stages of one crop, each counted from the latest event that it depends on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil, floor

from planning.compute.stage_forecasts import reasons
from planning.compute.stage_forecasts.estimates import (
    Anchor,
    Estimate,
    from_anchor,
    from_calendar,
    pairs_of,
)
from planning.compute.stage_forecasts.heat import Heat
from planning.compute.stage_forecasts.sights import planned
from planning.compute.stage_forecasts.spread import ENOUGH
from planning.compute.stage_forecasts.values import (
    ANCHORS,
    STAGES,
    Cycle,
    Forecast,
    Method,
    Sight,
    SpeciesFacts,
    Stage,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """What a crop's stages are forecast from: itself, the block's earlier ones, its species.

    `heat` is what was known of the weather on the day of the forecast. `comes_yearly` is False
    where the earlier crops came at another time of the year, so that only days and heat are alike.
    """

    cycle: Cycle
    past: Sequence[Cycle]
    facts: SpeciesFacts
    heat: Heat | None = None
    comes_yearly: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dated:
    """A stage that has a date; `is_moved` where that rests on something of this crop."""

    anchor: Anchor
    is_moved: bool
    sight: Sight | None = None


def forecasts(crop: Crop, as_of: date) -> tuple[Forecast, ...]:
    """Every stage of a crop as seen on a day: later records are ignored."""
    return tuple(_walk(crop, as_of, STAGES))


def forecast_of(crop: Crop, stage: Stage, as_of: date) -> Forecast:
    """One stage, and no more of those before it than it is counted from."""
    *_, found = _walk(crop, as_of, STAGES[: STAGES.index(stage) + 1])
    return found


def forecast_from_plan(
    crop: Crop, opened_on: date, as_of: date, *, kind: str = "pruning"
) -> tuple[Forecast, ...]:
    """Every stage of a crop that is to be opened on a day, by pruning or leaf stripping.

    Nothing seen of `crop.cycle` counts: it says which season and which crop of it is planned.
    """
    return forecasts(replace(crop, cycle=planned(crop.cycle, kind, opened_on)), as_of)


def _walk(crop: Crop, as_of: date, stages: Iterable[Stage]) -> Iterable[Forecast]:
    dated: dict[Stage, _Dated] = {}
    opening = crop.cycle.seen(Stage.OPENING, as_of)
    if opening is not None:
        dated[Stage.OPENING] = _seen(Stage.OPENING, opening)
    for stage in stages:
        sight = crop.cycle.seen(stage, as_of)
        if sight is not None:
            dated[stage] = _seen(stage, sight)
            yield _observed(crop, stage, sight)
        else:
            yield _ahead(crop, stage, as_of, dated)


def _seen(stage: Stage, sight: Sight) -> _Dated:
    return _Dated(anchor=Anchor(stage=stage, on=sight.on), is_moved=True, sight=sight)


def _observed(crop: Crop, stage: Stage, sight: Sight) -> Forecast:
    return Forecast(
        stage=stage,
        method=Method.OBSERVED,
        on=sight.on,
        low=sight.on,
        high=sight.on,
        observed_on=sight.on,
        reason=reasons.seen(stage, sight, crop.cycle.note if stage is Stage.FIRST_BLOOM else ""),
        inputs={"shown_by": sight.told},
    )


def _ahead(crop: Crop, stage: Stage, as_of: date, dated: dict[Stage, _Dated]) -> Forecast:
    if stage in crop.facts.does_not_apply:
        return Forecast(
            stage=stage, method=Method.DOES_NOT_APPLY, reason=crop.facts.does_not_apply[stage]
        )
    later = _later_sight(crop.cycle, stage, as_of)
    if later is not None:
        return Forecast(stage=stage, method=Method.PASSED, reason=reasons.passed(stage, *later))
    found = _found(crop, stage, as_of, dated)
    if found is None:
        return Forecast(
            stage=stage, method=Method.NOT_KNOWN, reason=_missing(crop, stage, as_of, dated)
        )
    anchor, estimate = found
    return _dated(crop, stage, as_of, dated, anchor, estimate)


def _later_sight(cycle: Cycle, stage: Stage, as_of: date) -> tuple[Stage, Sight] | None:
    for later in STAGES[STAGES.index(stage) + 1 :]:
        sight = cycle.seen(later, as_of)
        if sight is not None:
            return later, sight
    return None


def _found(
    crop: Crop, stage: Stage, as_of: date, dated: Mapping[Stage, _Dated]
) -> tuple[_Dated | None, Estimate] | None:
    """What was seen in this crop first, then what follows from it, then the block's calendar."""
    calendar = None
    if crop.comes_yearly:
        calendar = from_calendar(crop.past, stage, crop.cycle.season_year, as_of)
    anchors = [dated[each] for each in ANCHORS[stage] if each in dated]
    for each in anchors:
        estimate = _from(crop, stage, as_of, each, calendar) if each.sight else None
        if estimate is not None:
            return each, estimate
    ahead = [each for each in anchors if each.sight is None]
    follows = _surest(crop, stage, as_of, [each for each in ahead if each.is_moved])
    if follows is None and calendar is not None:
        return None, calendar
    return follows or _surest(crop, stage, as_of, ahead)


def _surest(
    crop: Crop, stage: Stage, as_of: date, anchors: Iterable[_Dated]
) -> tuple[_Dated, Estimate] | None:
    """Of stages that are themselves forecast, the one that gives the narrowest interval."""
    found = [
        (each, estimate)
        for each in anchors
        if (estimate := _from(crop, stage, as_of, each, None)) is not None
    ]
    return min(found, key=lambda each: each[1].spread.half, default=None)


def _from(
    crop: Crop, stage: Stage, as_of: date, dated: _Dated, calendar: Estimate | None
) -> Estimate | None:
    anchor = dated.anchor
    pairs = pairs_of(crop.past, anchor.stage, stage, as_of)
    if not pairs and anchor.stage is Stage.OPENING and _says_more(calendar):
        return None
    days = crop.facts.days.get((anchor.stage, stage))
    season_year = crop.cycle.season_year if crop.comes_yearly else None
    return from_anchor(anchor, pairs, days, season_year, crop.heat, crop.facts)


def _says_more(calendar: Estimate | None) -> bool:
    """Three seasons of the block's own say more than a range for the species from its pruning."""
    if calendar is None:
        return False
    seasons = calendar.inputs["seasons"]
    return isinstance(seasons, list) and len(seasons) >= ENOUGH


def _dated(
    crop: Crop,
    stage: Stage,
    as_of: date,
    dated: dict[Stage, _Dated],
    anchor: _Dated | None,
    estimate: Estimate,
) -> Forecast:
    """The forecast; no stage comes before the one that it follows."""
    if estimate.method is Method.HISTORY:
        anchor = None
    spread = estimate.spread
    earliest = max(
        (dated[each].anchor.on for each in ANCHORS[stage] if each in dated), default=None
    )
    on, low, high = (
        _no_earlier(day, earliest)
        for day in (
            floor(spread.middle + 0.5),
            floor(spread.middle - spread.half),
            ceil(spread.middle + spread.half),
        )
    )
    is_moved = anchor is not None and anchor.is_moved
    dated[stage] = _Dated(anchor=Anchor(stage=stage, on=on, half=spread.half), is_moved=is_moved)
    return Forecast(
        stage=stage,
        method=estimate.method,
        on=on,
        low=low,
        high=high,
        anchor=anchor.anchor.stage if anchor else None,
        anchor_on=anchor.anchor.on if anchor else None,
        reason=reasons.ahead(
            stage,
            estimate.method,
            estimate.inputs,
            crop.facts.name,
            (anchor.anchor.stage, anchor.anchor.on, anchor.sight) if anchor else None,
            overdue_since=high if high < as_of else None,
        ),
        inputs=estimate.inputs,
    )


def _no_earlier(ordinal: int, earliest: date | None) -> date:
    day = date.fromordinal(ordinal)
    return day if earliest is None else max(day, earliest)


def _missing(crop: Crop, stage: Stage, as_of: date, dated: Mapping[Stage, _Dated]) -> str:
    """What would have to be known."""
    is_open = Stage.OPENING in dated
    return reasons.missing(
        stage,
        crop.facts.name,
        has_begun=crop.cycle.starts_on <= as_of,
        starts_on=crop.cycle.starts_on,
        is_open=is_open,
        has_anchor=any(each in dated for each in ANCHORS[stage]),
    )
