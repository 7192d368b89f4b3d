"""The stages of a crop in what was recorded of its block.

* pruning or leaf stripping opens the crop: its opening as recorded, else the first such work of
  its days that is not after first bloom
* leaf-out is the first sight of 07 to 19, first bloom of 60 to 68, half of the flowers of 65 to 68,
  end of bloom of 69, skin change of 81 to 86, first picking of 87 to 89 or a weighing
* hand pollination shows bloom, as do the crop's own dates
* the last picking is known once the crop's picking is said to have ended, 99 is seen, or the
  crop's days are over and nothing was picked for four weeks
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from planning.compute.stage_forecasts import reasons
from planning.compute.stage_forecasts.values import Cycle, Sight, Stage

LAST = 99
QUIET = timedelta(days=28)  # common practice, no source: fruit is picked every few days


@dataclass(frozen=True, slots=True, kw_only=True)
class CropDays:
    """A crop and the days whose records are its own, unless they name another crop."""

    season_year: int
    crop: str
    crop_id: str | None
    starts_on: date
    ends_on: date
    opened_on: date | None = None
    opened_by: str = ""
    bloom_began_on: date | None = None
    picking_starts_on: date | None = None
    picking_ends_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A BBCH stage seen; `crop` is the id of the crop that the record names, if it does."""

    bbch: int
    on: date
    crop: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Work that opens a crop ("pruning", "leaf stripping")."""

    kind: str
    on: date
    crop: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """First and last of some days of work of one kind, of one crop."""

    first: date
    last: date
    crop: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What was recorded of a block, or of one cultivar on it."""

    stages: Sequence[Seen] = ()
    openings: Sequence[Done] = ()
    pollinations: Sequence[Span] = ()
    pickings: Sequence[Span] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """Which BBCH stages show one of ours, and which of them show it as it came."""

    first: int
    last: int
    exact_to: int


_SHOWN = {
    Stage.LEAF_OUT: _Shown(first=7, last=19, exact_to=11),
    Stage.FIRST_BLOOM: _Shown(first=60, last=68, exact_to=61),
    Stage.HALF_BLOOM: _Shown(first=65, last=68, exact_to=65),
    Stage.END_OF_BLOOM: _Shown(first=69, last=69, exact_to=69),
    Stage.SKIN_CHANGE: _Shown(first=81, last=86, exact_to=82),
    Stage.FIRST_PICKING: _Shown(first=87, last=89, exact_to=88),
}


def cycle_of(crop: CropDays, recorded: Recorded) -> Cycle:
    """A crop with the sights of its stages."""
    stages = [each for each in recorded.stages if _is_of(crop, each.crop, each.on)]
    found = {
        stage: sight
        for stage in _SHOWN
        if (sight := _first(_sights(stage, crop, stages, recorded)))
    }
    last = _last_picking(crop, stages, recorded)
    if last is not None:
        found[Stage.LAST_PICKING] = last
    bloom = found.get(Stage.FIRST_BLOOM)
    opening, note = _opening(crop, recorded, bloom.on if bloom else None)
    if opening is not None:
        found[Stage.OPENING] = opening
    return Cycle(
        season_year=crop.season_year,
        crop=crop.crop,
        starts_on=crop.starts_on,
        sights=found,
        note=note,
    )


def planned(cycle: Cycle, kind: str, on: date) -> Cycle:
    """A crop that pruning or stripping is to open on a day."""
    opening = Sight(on=on, known_on=date.min, told=kind, is_planned=True)
    return replace(cycle, sights={Stage.OPENING: opening}, note="")


def _is_of(crop: CropDays, named: str | None, on: date) -> bool:
    return named == crop.crop_id if named else crop.starts_on <= on <= crop.ends_on


def _sights(
    stage: Stage, crop: CropDays, stages: Iterable[Seen], recorded: Recorded
) -> Iterator[Sight]:
    shown = _SHOWN[stage]
    for each in stages:
        if shown.first <= each.bbch <= shown.last:
            told = f"BBCH {each.bbch:02}"
            yield _sight(each.on, told, is_exact=each.bbch <= shown.exact_to)
    if stage is Stage.FIRST_BLOOM:
        if crop.bloom_began_on is not None:
            yield _sight(crop.bloom_began_on, "crop")
        for span in recorded.pollinations:
            yield from _begun(crop, span, "pollination", is_exact=False)
    if stage is Stage.FIRST_PICKING:
        for span in recorded.pickings:
            yield from _begun(crop, span, "picking", is_exact=True)


def _begun(crop: CropDays, span: Span, told: str, *, is_exact: bool) -> Iterator[Sight]:
    for on in (span.first, span.last):
        if _is_of(crop, span.crop, on):
            yield _sight(on, told, is_exact=is_exact)


def _sight(on: date, told: str, *, is_exact: bool = True) -> Sight:
    return Sight(on=on, known_on=on, told=told, is_exact=is_exact)


def _first(sights: Iterable[Sight]) -> Sight | None:
    """The earliest; on one day the one that shows the stage best."""
    return min(sights, key=lambda sight: (sight.on, not sight.is_exact, sight.told), default=None)


def _last_picking(crop: CropDays, stages: Iterable[Seen], recorded: Recorded) -> Sight | None:
    picked = [
        on
        for span in recorded.pickings
        for on in (span.first, span.last)
        if _is_of(crop, span.crop, on)
    ]
    if not picked:
        return None
    last = max(picked)
    ends = [crop.picking_ends_on] if crop.picking_ends_on else []
    ends += [each.on for each in stages if each.bbch == LAST and each.on >= last]
    over_on = max(crop.ends_on + timedelta(days=1), last + QUIET)
    known_on = min([*ends, over_on])
    return Sight(on=last, known_on=max(last, known_on), told="picking")


def _opening(crop: CropDays, recorded: Recorded, bloom: date | None) -> tuple[Sight | None, str]:
    """The opening, and what is to be said of work that cannot be it."""
    if crop.opened_on is not None and crop.opened_by:
        return _sight(crop.opened_on, crop.opened_by), ""
    work = sorted(
        (each for each in recorded.openings if _is_of(crop, each.crop, each.on)),
        key=lambda done: (done.on, done.kind),
    )
    if not work:
        return None, ""
    if bloom is not None and work[0].on > bloom:
        return None, reasons.ignored_opening(work[0].kind, work[0].on)
    return _sight(work[0].on, work[0].kind), ""
