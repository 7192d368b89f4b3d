"""Links stay within a farm and go with what they point at; the change feed's indexes."""

from django.db import migrations

TABLE = "planning_seasonsummary"


def same_farm(column, parent):
    name = f"seasonsummary_{column}_same_farm"
    return migrations.RunSQL(
        f"ALTER TABLE {TABLE} ADD CONSTRAINT {name} FOREIGN KEY (farm_id, {column})"
        f" REFERENCES records_{parent} (farm_id, id) ON DELETE CASCADE",
        f"ALTER TABLE {TABLE} DROP CONSTRAINT {name}",
    )


TICK_INDEXES = migrations.RunSQL(
    [
        f"CREATE INDEX {TABLE}_unstamped ON {TABLE} (farm_id)"
        " WHERE tick IS NULL AND farm_id IS NOT NULL",
        f"CREATE INDEX {TABLE}_feed ON {TABLE} (farm_id, tick, id)",
    ],
    [f"DROP INDEX {TABLE}_feed", f"DROP INDEX {TABLE}_unstamped"],
)


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0001_initial"),
        ("records", "0002_same_farm"),
    ]

    operations = [
        same_farm("block_id", "block"),
        same_farm("crop_id", "crop"),
        TICK_INDEXES,
    ]
