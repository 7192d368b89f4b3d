"""What follows from what a scale showed, for weighings and intakes alike."""

from decimal import Decimal
from typing import Any

from records.choices import MAX_WEIGHING_G, WeightKind
from records.models import HarvestWeight, Intake
from records.models.harvest import to_grams
from records.services.saving.faults import fault

Weighed = HarvestWeight | Intake


def weigh(weighed: Weighed) -> None:
    """Net grams from what was entered, refusing what cannot be."""
    note_container_tare(weighed)
    weighed.net_g = _net_g(weighed)


def estimate(weight: HarvestWeight) -> None:
    """Grams by the container's usual net weight, where there was no scale."""
    weight.estimated_from_containers_g = None
    if weight.net_g is None and weight.containers and weight.container_id:
        usual = weight.container.usual_net_g
        weight.estimated_from_containers_g = usual and weight.containers * usual


def note_container_tare(weighed: Weighed) -> None:
    """Keep the tare of the day: it is taken anew only when the kind of container changes."""
    stored = type(weighed).objects.filter(pk=weighed.pk).values("container_id").first()
    if stored is None or stored["container_id"] != weighed.container_id:
        weighed.container_tare_g = weighed.container.tare_g if weighed.container_id else None


def _net_g(weighed: Weighed) -> int | None:
    scale_g = weighed.scale_g
    if scale_g is None:
        return None
    check_weight(scale_g)
    if weighed.weight_kind == WeightKind.NET:
        return scale_g
    tare_g = total_tare_g(weighed)
    if tare_g > scale_g:
        field = "weight" if weighed.tare_g is None else "tare_g"
        raise fault(field, "The containers weigh more than the scale showed.", "tare-above-gross")
    return scale_g - tare_g


def check_weight(scale_g: int) -> None:
    if scale_g > MAX_WEIGHING_G:
        raise fault(
            "weight", f"A weighing is at most {MAX_WEIGHING_G // 1000} kg.", "absurd-weight"
        )


def total_tare_g(weighed: Weighed) -> int:
    if weighed.tare_g is not None:
        return weighed.tare_g
    return (weighed.containers or 0) * (weighed.container_tare_g or 0)


def with_net(line: dict[str, Any]) -> dict[str, Any]:
    """A line of an intake or a lot, with the grams of its weight."""
    net_g = to_grams(Decimal(line["weight"]), line["unit"])
    check_weight(net_g)
    return {**line, "net_g": net_g}
