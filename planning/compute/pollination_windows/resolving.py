"""Which hours hold on a farm: its own, the source it chose, or the default that ships."""

from dataclasses import dataclass

from planning.compute.pollination_windows.sources import BY_KEY, sources_of
from planning.compute.pollination_windows.values import Hours, Source, Window

NO_SOURCE = "No hours are published for this species. Enter the farm's own under flower-hours."

GONE = "The source {code}, which the farm chose, does not ship for this species. Choose another."


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmHours:
    """What a farm decided about a species: a source that ships, or hours of its own."""

    chosen: str | None = None
    brush: Window | None = None
    gather: Window | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The hours of one kind of work, and whose they are; without windows, why there are none."""

    windows: tuple[Window, ...]
    source: str | None
    source_code: str | None = None
    is_own: bool = False
    is_default: bool = False
    is_weak: bool = False
    reason: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeciesHours:
    """The hours that hold for a species on a farm."""

    brush: Held
    gather: Held


def hours_held(species: str, farm: FarmHours | None = None) -> SpeciesHours:
    """By part: the farm's own, else those of its chosen source, else those of the default."""
    shipped, own = sources_of(species), farm or FarmHours()
    if own.chosen is not None:
        chosen = BY_KEY.get((species, own.chosen))
        if chosen is None:
            return _nothing(GONE.format(code=own.chosen))
        shipped = (chosen, *(each for each in shipped if each.is_default and each != chosen))
    return SpeciesHours(
        brush=_own(own.brush, own.source) or _shipped(shipped, "brush"),
        gather=_own(own.gather, own.source) or _shipped(shipped, "gather"),
    )


def _nothing(reason: str) -> SpeciesHours:
    held = Held(windows=(), source=None, reason=reason)
    return SpeciesHours(brush=held, gather=held)


def _own(window: Window | None, source: str) -> Held | None:
    if window is None:
        return None
    return Held(windows=(window,), source=source or "The farm's own hours.", is_own=True)


def _shipped(sources: tuple[Source, ...], part: str) -> Held:
    """The first source that gives hours; else the reason of the first, or that there is none."""
    if not sources:
        return _nothing(NO_SOURCE).brush
    for source in sources:
        hours: Hours = getattr(source, part)
        if hours.windows:
            return _held(source, hours)
    return _held(sources[0], getattr(sources[0], part))


def _held(source: Source, hours: Hours) -> Held:
    return Held(
        windows=hours.windows,
        source=hours.source,
        source_code=source.code,
        is_default=source.is_default,
        is_weak=source.is_weak,
        reason=hours.reason,
        notes=(*([source.why_weak] if source.why_weak else []), *source.notes),
    )
