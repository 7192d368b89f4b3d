"""Why a stage is expected when it is, in sentences that a grower can follow and argue with."""

from collections.abc import Mapping
from datetime import date, timedelta

from planning.compute.stage_forecasts.values import Method, Sight, Stage

NAMES: Mapping[Stage, str] = {
    Stage.OPENING: "pruning",
    Stage.LEAF_OUT: "leaf-out",
    Stage.FIRST_BLOOM: "first bloom",
    Stage.HALF_BLOOM: "half bloom",
    Stage.END_OF_BLOOM: "end of bloom",
    Stage.SKIN_CHANGE: "skin change",
    Stage.FIRST_PICKING: "first picking",
    Stage.LAST_PICKING: "last picking",
}
SHOWN = {"picking", "pollination", "crop"}
Inputs = Mapping[str, object]
From = tuple[Stage, date, Sight | None]


def on(day: date) -> str:
    return f"{day.day} {day:%B}"


def seen(stage: Stage, sight: Sight, note: str = "") -> str:
    return " ".join(part for part in (_seen(stage, sight), note) if part)


def passed(stage: Stage, later: Stage, sight: Sight) -> str:
    return (
        f"{_capital(NAMES[stage])} was not recorded, and is past: {NAMES[later]} was seen"
        f" {on(sight.on)}."
    )


def ahead(
    stage: Stage,
    method: Method,
    inputs: Inputs,
    species: str,
    anchor: From | None,
    overdue_since: date | None,
) -> str:
    parts = [_anchor(anchor), _by(stage, method, inputs, species, anchor), _weather(inputs)]
    if overdue_since is not None:
        parts.append(f"It was due by {on(overdue_since)} and is not recorded yet.")
    return " ".join(part for part in parts if part)


def missing(
    stage: Stage,
    species: str,
    *,
    has_begun: bool,
    starts_on: date,
    is_open: bool,
    has_anchor: bool,
) -> str:
    """What is missing for a date."""
    name = _capital(NAMES[stage])
    unseen = "it was seen on this block in no earlier season"
    if has_anchor or is_open:
        return f"{name} has no date: {unseen}, and no days to it are known for {species}."
    if not has_begun:
        return (
            f"{name} has no date: the season begins {on(starts_on)} {starts_on.year}, nothing of"
            f" it is planned, and {unseen}."
        )
    return (
        f"{name} has no date: neither pruning, leaf stripping nor an earlier stage is recorded"
        f" this season, and {unseen}."
    )


def ignored_opening(told: str, day: date) -> str:
    return f"The {told} of {on(day)} came after bloom was seen, so nothing is counted from it."


def _seen(stage: Stage, sight: Sight) -> str:
    name = _capital(NAMES[stage])
    if sight.told in SHOWN:
        by = "the crop's record" if sight.told == "crop" else sight.told
        return f"{name} shown by {by} on {on(sight.on)}."
    if not sight.is_exact:
        return f"{name}: {sight.told} seen {on(sight.on)}, nothing before."
    return f"{name} seen {on(sight.on)}."


def _anchor(anchor: From | None) -> str:
    if anchor is None:
        return ""
    stage, day, sight = anchor
    if sight is None:
        return f"{_capital(NAMES[stage])} is expected {on(day)}."
    if stage is not Stage.OPENING:
        return _seen(stage, sight)
    done = "Leaves stripped" if sight.told == "leaf stripping" else "Pruned"
    return f"{done} {on(day)}, as planned." if sight.is_planned else f"{done} {on(day)}."


def _by(stage: Stage, method: Method, inputs: Inputs, species: str, anchor: From | None) -> str:
    name, after = NAMES[stage], _after(anchor)
    match method:
        case Method.DAYS:
            return f"On this block {name} came {_days(inputs)} {after} {_in_seasons(inputs)}."
        case Method.SHRUNK:
            low, high, source = _species_days(inputs)
            return (
                f"On this block {name} came {_days(inputs)} {after} {_in_seasons(inputs)}; the"
                f" {low} to {high} days of {species} ({source}) weigh as one season more."
            )
        case Method.SPECIES:
            low, high, source = _species_days(inputs)
            return f"In {species} {name} comes {low} to {high} days {after} ({source})."
        case Method.HISTORY:
            return f"On this block {name} came {_dates(inputs)} {_in_seasons(inputs)}."
        case _:
            return _by_heat(name, inputs, after)


def _by_heat(name: str, inputs: Inputs, after: str) -> str:
    heat = _numbers(inputs["degree_days"])
    so_far = f"; {inputs['gathered']:.0f} have gathered" if "gathered" in inputs else ""
    return (
        f"On this block {name} came {min(heat):.0f} to {max(heat):.0f} degree days above"
        f" {inputs['base_c']:g} C {after} {_in_seasons(inputs)}{so_far}."
    )


def _weather(inputs: Inputs) -> str:
    ahead, normals = _day(inputs.get("forecast_from")), _day(inputs.get("normals_from"))
    if normals is None:
        return f"From {on(ahead)} on by forecast weather." if ahead else ""
    means = f"from {on(normals)} on by the station's own means of earlier years."
    if ahead is None or ahead >= normals:
        return _capital(means)
    return f"From {on(ahead)} to {on(normals - timedelta(days=1))} by forecast weather, {means}"


def _after(anchor: From | None) -> str:
    if anchor is None:
        return ""
    stage, _, sight = anchor
    stripped = stage is Stage.OPENING and sight is not None and sight.told == "leaf stripping"
    return f"after {'leaf stripping' if stripped else NAMES[stage]}"


def _days(inputs: Inputs) -> str:
    days = _numbers(inputs["days"])
    low, high = min(days), max(days)
    return f"{low:g} days" if low == high else f"{low:g} to {high:g} days"


def _dates(inputs: Inputs) -> str:
    """The earliest and latest in their seasons, which may cross New Year."""
    seasons, texts = _numbers(inputs["seasons"]), _texts(inputs["dates"])
    days = sorted(
        (day.year - year, day.month, day.day, day)
        for year, day in zip(seasons, map(date.fromisoformat, texts), strict=True)
    )
    first, last = days[0][-1], days[-1][-1]
    return f"on {on(first)}" if len(days) == 1 else f"between {on(first)} and {on(last)}"


def _in_seasons(inputs: Inputs) -> str:
    number = len(_numbers(inputs["seasons"]))
    return "in one season" if number == 1 else f"in {number} seasons"


def _species_days(inputs: Inputs) -> tuple[str, str, object]:
    low, high = _numbers(inputs["species_days"])
    return f"{low:g}", f"{high:g}", inputs["species_source"]


def _numbers(values: object) -> list[float]:
    return [float(value) for value in values] if isinstance(values, list) else []


def _texts(values: object) -> list[str]:
    return [str(value) for value in values] if isinstance(values, list) else []


def _day(text: object) -> date | None:
    return date.fromisoformat(text) if isinstance(text, str) else None


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
