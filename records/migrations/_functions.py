"""The functions behind versions, change ticks and jobs.

A row's tick is cleared when the row is written and set once at commit, for all rows of a table
in one statement: `stamp` is a deferred trigger that fires for every row, but only its first
firing since the last write finds work to do (`orchard.dirty_*`). The tick itself is taken under
the farm's row lock, which is held to commit, so ticks become visible in their own order.

The first tick of a transaction also leaves the job that rebuilds what is derived from the farm,
so that no way of writing can forget it. It is an upsert that locks the waiting job: a worker
cannot take the job before this transaction is visible.
"""

from django.contrib.postgres.operations import BtreeGistExtension
from django.db import migrations

FUNCTIONS = """
CREATE FUNCTION orchard_mark() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF current_setting('orchard.dirty_' || TG_RELID, true) IS DISTINCT FROM 'on' THEN
        PERFORM set_config('orchard.dirty_' || TG_RELID, 'on', true);
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION orchard_touch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF current_setting('orchard.stamping', true) = 'on' THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.version := 1;
        NEW.updated_at := NEW.created_at;
    ELSE
        NEW.version := OLD.version;
        NEW.created_at := OLD.created_at;
        NEW.updated_at := OLD.updated_at;
        NEW.tick := OLD.tick;
        IF NEW IS NOT DISTINCT FROM OLD THEN
            RETURN NEW;
        END IF;
        NEW.version := OLD.version + 1;
        NEW.updated_at := now();
    END IF;
    NEW.tick := NULL;
    IF current_setting('orchard.dirty_' || TG_RELID, true) IS DISTINCT FROM 'on' THEN
        PERFORM set_config('orchard.dirty_' || TG_RELID, 'on', true);
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION orchard_tick(farm uuid, derived boolean) RETURNS bigint LANGUAGE plpgsql AS $$
DECLARE
    tick_name text := 'orchard.tick_' || replace(farm::text, '-', '');
    told_name text := 'orchard.told_' || replace(farm::text, '-', '');
    taken bigint := nullif(current_setting(tick_name, true), '');
BEGIN
    IF taken IS NULL THEN
        INSERT INTO records_farmtick AS t (farm_id, tick) VALUES (farm, 1)
            ON CONFLICT (farm_id) DO UPDATE SET tick = t.tick + 1
            RETURNING t.tick INTO taken;
        PERFORM set_config(tick_name, taken::text, true);
    END IF;
    IF NOT derived AND current_setting(told_name, true) IS DISTINCT FROM 'on' THEN
        INSERT INTO records_job (id, kind, key, payload, state, attempts, error)
            VALUES (uuidv7(), 'farm-changed', farm::text, '{}', 'waiting', 0, '')
            ON CONFLICT (kind, key) WHERE state = 'waiting' DO UPDATE SET queued_at = now();
        PERFORM set_config(told_name, 'on', true);
    END IF;
    RETURN taken;
END $$;

CREATE FUNCTION orchard_stamp() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    farm_column text := TG_ARGV[0];
    farm uuid;
    derived boolean;
BEGIN
    IF current_setting('orchard.dirty_' || TG_RELID, true) IS DISTINCT FROM 'on' THEN
        RETURN NULL;
    END IF;
    PERFORM set_config('orchard.stamping', 'on', true);
    FOR farm, derived IN EXECUTE format(
        'SELECT %1$I, bool_and(%3$s) FROM %2$s WHERE tick IS NULL AND %1$I IS NOT NULL'
        ' GROUP BY 1 ORDER BY 1',
        farm_column, TG_RELID::regclass, TG_ARGV[1])
    LOOP
        EXECUTE format(
            'UPDATE %2$s SET tick = $1 WHERE %1$I = $2 AND tick IS NULL',
            farm_column, TG_RELID::regclass) USING orchard_tick(farm, derived), farm;
    END LOOP;
    PERFORM set_config('orchard.stamping', '', true);
    PERFORM set_config('orchard.dirty_' || TG_RELID, '', true);
    RETURN NULL;
END $$;
"""

DROP = """
DROP FUNCTION orchard_stamp();
DROP FUNCTION orchard_tick(uuid, boolean);
DROP FUNCTION orchard_touch();
DROP FUNCTION orchard_mark();
"""

OPERATIONS = [BtreeGistExtension(), migrations.RunSQL(FUNCTIONS, DROP)]
