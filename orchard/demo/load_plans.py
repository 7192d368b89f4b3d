"""Stores what the demo's farms plan by: their crews and hours, and their own figures."""

from orchard.demo import cast as demo
from planning.models import ScheduleSetting, SpeciesFigure
from planning.services.species_figures import save_figure
from records import models


def load_plans(cast: demo.Cast, farms: dict[str, models.Farm]) -> None:
    species = {each.code: each for each in models.Species.objects.all()}
    for farm in cast.farms:
        ScheduleSetting.objects.create(
            farm=farms[farm.code],
            crew_size=farm.crew_size,
            works_from=farm.works_from,
            works_until=farm.works_until,
        )
        for figure in farm.figures:
            save_figure(
                SpeciesFigure(
                    farm=farms[farm.code],
                    species=species[figure.species],
                    name=figure.name,
                    value=figure.value,
                    source=figure.source,
                )
            )
