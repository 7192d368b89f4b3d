"""What follows elsewhere from a record that is saved."""

import pytest

from records.models import Job, Species
from records.services.saving import save
from tests.cast import make_cast

pytestmark = pytest.mark.django_db


def test_a_species_that_bears_later_has_its_farms_rebuilt() -> None:
    cast = make_cast()
    Job.objects.all().delete()
    species = Species.objects.get(code="sugar-apple")
    species.bearing_age_years = 5
    save(species)
    waiting = set(Job.objects.values_list("kind", "key"))
    farms = {cast.ours.farm.pk, cast.neighbour.farm.pk}
    assert waiting == {("farm-changed", str(farm)) for farm in farms}


def test_a_species_that_nobody_grows_rebuilds_nothing() -> None:
    make_cast()
    Job.objects.all().delete()
    save(Species.objects.get(code="soursop"))
    assert not Job.objects.exists()
