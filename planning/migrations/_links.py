"""Links that stay within a farm, and the change feed's indexes, as operations."""

from django.db import migrations


def parent_key(table):
    return migrations.RunSQL(
        f"ALTER TABLE {table} ADD CONSTRAINT {table}_in_farm UNIQUE (farm_id, id)",
        f"ALTER TABLE {table} DROP CONSTRAINT {table}_in_farm",
    )


def same_farm(child, column, parent, when_gone):
    name = f"{child}_{column}_same_farm"
    return migrations.RunSQL(
        f"ALTER TABLE planning_{child} ADD CONSTRAINT {name} FOREIGN KEY (farm_id, {column})"
        f" REFERENCES {parent} (farm_id, id){when_gone}",
        f"ALTER TABLE planning_{child} DROP CONSTRAINT {name}",
    )


def tick_indexes(child):
    table = f"planning_{child}"
    return migrations.RunSQL(
        [
            f"CREATE INDEX {table}_unstamped ON {table} (farm_id)"
            " WHERE tick IS NULL AND farm_id IS NOT NULL",
            f"CREATE INDEX {table}_feed ON {table} (farm_id, tick, id)",
        ],
        [f"DROP INDEX {table}_feed", f"DROP INDEX {table}_unstamped"],
    )
