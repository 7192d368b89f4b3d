"""A further crop against the main crop of the same block and season."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from planning.compute.season_summary.values import SeasonFigures

NO_MAIN = "no main crop of this block has been picked this season, or there is more than one"


@dataclass(frozen=True, slots=True, kw_only=True)
class CropComparison:
    """Ratios are further crop / main crop; `p50_days_later` from the main crop's 50 % date.

    What cannot be compared is None, and `reasons` says why.
    """

    kilos_ratio: float | None
    p50_days_later: int | None
    kg_per_picking_hour_ratio: float | None
    minutes_ratio: float | None
    reasons: Mapping[str, str]


def against_main(further: SeasonFigures, main: SeasonFigures | None) -> CropComparison:
    """The comparison, by measured kilos; all None where there is no one main crop."""
    if main is None:
        names = ("kilos_ratio", "p50_days_later", "kg_per_picking_hour_ratio", "minutes_ratio")
        return CropComparison(**dict.fromkeys(names), reasons=dict.fromkeys(names, NO_MAIN))
    values = {
        "kilos_ratio": _ratio(further.net_g, main.net_g),
        "p50_days_later": _days(further.p50_on, main.p50_on),
        "kg_per_picking_hour_ratio": _ratio(further.kg_per_picking_hour, main.kg_per_picking_hour),
        "minutes_ratio": _ratio(_minutes(further), _minutes(main)),
    }
    why = {
        "kilos_ratio": _why(further, main, "p50_on"),
        "p50_days_later": _why(further, main, "p50_on"),
        "kg_per_picking_hour_ratio": _why(further, main, "kg_per_picking_hour"),
        "minutes_ratio": _why(further, main, "minutes"),
    }
    reasons = {name: why[name] for name, value in values.items() if value is None}
    days = values.pop("p50_days_later")
    return CropComparison(
        **values, p50_days_later=None if days is None else int(days), reasons=reasons
    )


def _minutes(figures: SeasonFigures) -> int | None:
    return sum(figures.minutes.values()) if figures.minutes else None


def _ratio(part: float | None, whole: float | None) -> float | None:
    return part / whole if part and whole else None


def _days(later: date | None, earlier: date | None) -> int | None:
    return (later - earlier).days if later and earlier else None


def _why(further: SeasonFigures, main: SeasonFigures, name: str) -> str:
    """Of which crop a figure is not known, and why."""
    if name in further.reasons and not _is_known(further, name):
        return f"this crop's {further.reasons[name]}"
    return f"the main crop's {main.reasons.get(name, f'{name} is not known')}"


def _is_known(figures: SeasonFigures, name: str) -> bool:
    return bool(getattr(figures, name))
