"""Find the weighings of which nothing but the number of fruit is known."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0006_import_at_size")]

    operations = [
        migrations.AddIndex(
            model_name="harvestweight",
            index=models.Index(
                condition=models.Q(net_g__isnull=True, estimated_from_containers_g__isnull=True),
                fields=["farm"],
                name="harvest_weight_bare",
            ),
        )
    ]
