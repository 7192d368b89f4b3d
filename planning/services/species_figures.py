"""A farm's own figures: what they can be, and what they must not contradict."""

from django.db import transaction

from planning.compute.figures import DECLARED, ORDERED, FigureError, check
from planning.models import SpeciesFigure
from planning.queries.figures import figures_of
from records.services.saving.faults import fault


@transaction.atomic
def save_figure(figure: SpeciesFigure) -> SpeciesFigure:
    """Store a person's figure; the farm's schedule and forecasts follow by themselves."""
    if figure.name not in DECLARED:
        raise fault("name", f"There is no figure {figure.name}.", "no-such-figure")
    try:
        check(figure.name, figure.value)
    except FigureError as error:
        raise fault("value", str(error), "out-of-range") from error
    if figure.cultivar is not None and figure.cultivar.species != figure.species:
        text = f"{figure.cultivar} is no {figure.species.common_name}."
        raise fault("cultivar", text, "other-species")
    _check_order(figure)
    figure.save(force_insert=figure._state.adding)
    return figure


def _check_order(figure: SpeciesFigure) -> None:
    """Thresholds and limits that go together stay in order, whichever of them is changed."""
    in_force = figures_of(figure.farm.pk)
    for lower, higher in ORDERED:
        if figure.name not in (lower, higher):
            continue
        other = higher if figure.name == lower else lower
        standing = in_force.value(figure.species.code, other, figure.cultivar_id)
        values = {figure.name: figure.value, other: standing}
        low, high = values[lower], values[higher]
        if low is not None and high is not None and low > high:
            text = f"{lower} ({low:g}) is above {higher} ({high:g})."
            raise fault("value", text, "limits-crossed")
