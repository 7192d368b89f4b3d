"""The five annonas, as reference data. Their ids are the same in every installation."""

import uuid

from django.db import migrations

SPECIES = [
    # code, common name, scientific name, bearing age in years, its source
    ("sugar-apple", "sugar apple", "Annona squamosa", 3, "common practice, no source"),
    (
        "atemoya",
        "atemoya",
        "Annona cherimola x Annona squamosa",
        3,
        "ECHO 2007: bears about three years from seed",
    ),
    ("cherimoya", "cherimoya", "Annona cherimola", 4, "common practice, no source"),
    (
        "soursop",
        "soursop",
        "Annona muricata",
        3,
        "ICUC manual 2006: crops from its third year",
    ),
    ("custard-apple", "custard apple", "Annona reticulata", 4, "common practice, no source"),
]


def add(apps, schema_editor):
    species = apps.get_model("records", "Species")
    for code, common, scientific, age, source in SPECIES:
        species.objects.create(
            id=uuid.uuid5(uuid.NAMESPACE_DNS, f"{code}.species.orchard"),
            code=code,
            common_name=common,
            scientific_name=scientific,
            bearing_age_years=age,
            bearing_age_source=source,
        )


def remove(apps, schema_editor):
    codes = [code for code, *_ in SPECIES]
    apps.get_model("records", "Species").objects.filter(code__in=codes).delete()


class Migration(migrations.Migration):
    dependencies = [("records", "0002_same_farm")]

    operations = [migrations.RunPython(add, remove)]
