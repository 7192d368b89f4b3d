"""The details that some kinds of task log carry: one declaration, for checks and schema alike.

Plain Python: neither Django nor the models are known here.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

MAX_SHOOTS = 1_000
MAX_SHOOT_CM = 1_000


class DetailsError(ValueError):
    """Details that are not what their kind of work carries; `code` is for machines.

    `name` is the detail at fault, "" where it is none in particular.
    """

    def __init__(self, text: str, code: str = "invalid-value", *, name: str = "") -> None:
        super().__init__(text)
        self.code = code
        self.name = name


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """One named fact: how it is checked, and its JSON Schema."""

    is_right: Callable[[Any], bool]
    schema: dict[str, Any]
    wanted: str


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def number(highest: float, unit: str, *, whole: bool = False) -> Detail:
    def is_right(value: Any) -> bool:
        fits = _is_number(value) and 0 <= value <= highest
        return fits and not (whole and value != int(value))

    kind = "integer" if whole else "number"
    return Detail(
        is_right=is_right,
        schema={"type": kind, "minimum": 0, "maximum": highest, "description": unit},
        wanted=f"a {'whole ' if whole else ''}number from 0 to {highest} ({unit})",
    )


def text(meaning: str) -> Detail:
    return Detail(
        is_right=lambda value: isinstance(value, str) and 0 < len(value) <= 120,
        schema={"type": "string", "minLength": 1, "maxLength": 120, "description": meaning},
        wanted=f"a text of up to 120 characters ({meaning})",
    )


def one_of(*values: str) -> Detail:
    return Detail(
        is_right=lambda value: value in values,
        schema={"type": "string", "enum": list(values)},
        wanted="one of " + ", ".join(values),
    )


def lengths_cm(meaning: str) -> Detail:
    def is_right(value: Any) -> bool:
        return (
            isinstance(value, list)
            and 0 < len(value) <= MAX_SHOOTS
            and all(_is_number(each) and 0 <= each <= MAX_SHOOT_CM for each in value)
        )

    item = {"type": "number", "minimum": 0, "maximum": MAX_SHOOT_CM}
    return Detail(
        is_right=is_right,
        schema={
            "type": "array",
            "items": item,
            "minItems": 1,
            "maxItems": MAX_SHOOTS,
            "description": meaning,
        },
        wanted=f"a list of lengths from 0 to {MAX_SHOOT_CM} cm ({meaning})",
    )


Declared = Mapping[str, Mapping[str, Detail]]

# By kind of work; kinds that are not here carry none.
DETAILS: Declared = {
    "pruning": {
        "method": one_of("heading", "thinning", "heading-and-thinning", "renewal", "tipping"),
        "shoots_before_cm": lengths_cm("each shoot's length before, in cm"),
        "shoots_removed_cm": lengths_cm("what was taken off each, in cm, in the same order"),
    },
    "leaf-stripping": {
        "method": one_of("by-hand", "defoliant"),
        "share_percent": number(100, "share of the leaves, in %"),
    },
    "bagging": {"fruit": number(1_000_000, "fruit bagged", whole=True)},
    "thinning": {"fruit": number(1_000_000, "fruit taken off", whole=True)},
    "spraying": {
        "product": text("as on the label"),
        "active_ingredient": text("as on the label"),
        "litres": number(1_000_000, "spray mix used, in litres"),
        "reentry_hours": number(8_760, "from the label, in hours"),
        "preharvest_days": number(366, "from the label, in days", whole=True),
    },
    "irrigation": {
        "litres": number(1_000_000_000, "water given to the block or the trees, in litres"),
        "hours": number(24, "how long it ran"),
    },
    "fertilising": {
        "product": text("as on the label"),
        "kilograms": number(100_000, "in all, in kg"),
    },
}


def check(kind: str, details: Any) -> None:
    """Raise DetailsError unless these are details of the kind."""
    if not isinstance(details, dict):
        raise DetailsError("Details are an object.")
    declared = DETAILS.get(kind, {})
    for name, value in details.items():
        if name not in declared:
            known = ", ".join(declared) or "none"
            told = f"{kind} has no detail {name}; it has: {known}."
            raise DetailsError(told, "unknown-field", name=name)
        if not declared[name].is_right(value):
            raise DetailsError(f"{name} is {declared[name].wanted}.", name=name)
    _check_shoots(details)


def _check_shoots(details: Mapping[str, Any]) -> None:
    """Nothing longer than the shoot itself comes off it."""
    removed = details.get("shoots_removed_cm")
    if removed is None:
        return
    before = details.get("shoots_before_cm")
    if before is None or len(before) != len(removed):
        raise DetailsError(
            "shoots_removed_cm and shoots_before_cm name the same shoots, in the same order.",
            "shoots-differ",
            name="shoots_removed_cm",
        )
    for number_, (length, off) in enumerate(zip(before, removed, strict=True), start=1):
        if off > length:
            raise DetailsError(
                f"shoots_removed_cm: {off} cm cannot come off shoot {number_} of {length} cm.",
                "longer-than-the-shoot",
                name="shoots_removed_cm",
            )


def schema() -> dict[str, Any]:
    """JSON Schema: the details of one kind, or none."""
    return {
        "oneOf": [
            {
                "type": "object",
                "title": f"Details of {kind}",
                "additionalProperties": False,
                "properties": {name: detail.schema for name, detail in declared.items()},
            }
            for kind, declared in DETAILS.items()
        ]
        + [{"type": "object", "title": "No details", "maxProperties": 0}]
    }
