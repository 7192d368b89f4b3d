"""The table in which an import's rows are gathered, checked and compared before any of them lands.

Unlogged: a crash of the database empties it, and the import is read anew.
"""

from django.db import migrations

STAGED = """
CREATE UNLOGGED TABLE records_stagedweighing (
    import_id uuid NOT NULL,
    entry integer NOT NULL, -- one row of a wide sheet is several weighings
    sheet text NOT NULL DEFAULT '',
    row integer NOT NULL,
    "column" text NOT NULL DEFAULT '',

    -- as sent
    farm text NOT NULL,
    picked_on date NOT NULL,
    block text NOT NULL,
    tree text NOT NULL,
    tree_row integer,
    tree_position integer,
    cultivar text NOT NULL,
    grade text NOT NULL,
    crop text NOT NULL,
    weight numeric,
    unit text NOT NULL,
    weight_kind text NOT NULL,
    tare_g integer,
    containers integer,
    container text NOT NULL,
    fruit_count integer,
    docket text NOT NULL,
    ticket text NOT NULL,
    line text NOT NULL,
    pickers text[] NOT NULL,
    minutes integer,
    note text NOT NULL,
    sent text,

    -- as understood
    farm_id uuid,
    is_refused boolean NOT NULL DEFAULT false,
    block_id uuid,
    tree_ids uuid[] NOT NULL DEFAULT '{}',
    entered_cultivar_id uuid,
    grade_id uuid,
    container_id uuid,
    crop_id uuid,
    crop_chosen_by text NOT NULL DEFAULT 'date',

    -- the weighing that it becomes
    import_key text,
    weight_id uuid,
    new_id uuid NOT NULL, -- of the weighing that it may become
    known_version integer,
    is_new boolean NOT NULL DEFAULT false,
    is_changed boolean NOT NULL DEFAULT false,
    container_tare_g integer,
    net_g bigint,
    estimated_g bigint,

    PRIMARY KEY (import_id, entry)
)
-- What is found out of a row is written beside it on its page, and its key stays where it is.
WITH (fillfactor = 30)
"""

# Who may fill the table may have it analysed: joins on rows that the planner knows nothing of are
# planned as if there were few of them.
MAINTAINED = """
DO $$
DECLARE
    filler text;
BEGIN
    FOR filler IN SELECT grantee FROM information_schema.role_table_grants
        WHERE table_name = 'records_stagedweighing' AND privilege_type = 'INSERT'
    LOOP
        EXECUTE format('GRANT MAINTAIN ON records_stagedweighing TO %I', filler);
    END LOOP;
END $$
"""


class Migration(migrations.Migration):
    dependencies = [("records", "0003_species")]

    operations = [
        migrations.RunSQL(STAGED, "DROP TABLE records_stagedweighing"),
        migrations.RunSQL(MAINTAINED, migrations.RunSQL.noop),
    ]
