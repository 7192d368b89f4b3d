import django.db.models.deletion
import pgtrigger.compiler
import pgtrigger.migrations
from django.db import migrations, models


STAGED = """
TRUNCATE records_stagedweighing;
ALTER TABLE records_stagedweighing
    DROP CONSTRAINT records_stagedweighing_pkey,
    ADD COLUMN entry integer NOT NULL,
    ADD COLUMN sheet text NOT NULL DEFAULT '',
    ADD COLUMN "column" text NOT NULL DEFAULT '',
    ADD PRIMARY KEY (import_id, entry);
CREATE INDEX staged_weighing_matched ON records_stagedweighing (import_id, weight_id)
    WHERE weight_id IS NOT NULL;
"""
UNSTAGED = """
TRUNCATE records_stagedweighing;
DROP INDEX staged_weighing_matched;
ALTER TABLE records_stagedweighing
    DROP CONSTRAINT records_stagedweighing_pkey,
    DROP COLUMN entry,
    DROP COLUMN sheet,
    DROP COLUMN "column",
    ADD PRIMARY KEY (import_id, row);
"""


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0007_weighings_links_and_coordinates'),
    ]

    operations = [
        # One row of a wide sheet is several weighings.
        migrations.RunSQL(STAGED, UNSTAGED),
        migrations.CreateModel(
            name='ProposedChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('added', 'added'), ('changed', 'changed'), ('gone', 'gone')], max_length=8)),
                ('weight_id', models.UUIDField(help_text='Of a weighing that is there already.', null=True)),
                ('sheet', models.CharField(blank=True, max_length=80)),
                ('row', models.PositiveIntegerField(help_text='Null for one that is gone.', null=True)),
                ('column', models.CharField(blank=True, max_length=200)),
                ('before', models.JSONField(null=True)),
                ('after', models.JSONField(null=True)),
                ('was_edited', models.BooleanField(default=False, help_text='The weighing was changed since an import last wrote it.')),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='proposed_changes', to='records.harvestimport')),
            ],
            options={
                'indexes': [models.Index(fields=['harvest_import', 'id'], name='proposed_change_listed')],
            },
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='harvestimport',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='harvestimport',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='harvestimport',
            name='delete_delete',
        ),
        migrations.AddField(
            model_name='harvestimport',
            name='replaces',
            field=models.BooleanField(db_default=False, default=False, help_text='Retire what earlier files of the series brought in for the same span of dates, and this one no longer has. What would change is shown before it lands.'),
        ),
        migrations.AddField(
            model_name='harvestimport',
            name='replaces_from',
            field=models.DateField(blank=True, help_text="First day replaced; the first of the file's if not said.", null=True),
        ),
        migrations.AddField(
            model_name='harvestimport',
            name='replaces_until',
            field=models.DateField(blank=True, help_text="Last day replaced; the last of the file's if not said.", null=True),
        ),
        migrations.AddField(
            model_name='harvestimport',
            name='shown',
            field=models.CharField(blank=True, db_default='', default='', editable=False, max_length=64),
        ),
        migrations.AddField(
            model_name='harvestimportevent',
            name='replaces',
            field=models.BooleanField(db_default=False, default=False, help_text='Retire what earlier files of the series brought in for the same span of dates, and this one no longer has. What would change is shown before it lands.'),
        ),
        migrations.AddField(
            model_name='harvestimportevent',
            name='replaces_from',
            field=models.DateField(blank=True, help_text="First day replaced; the first of the file's if not said.", null=True),
        ),
        migrations.AddField(
            model_name='harvestimportevent',
            name='replaces_until',
            field=models.DateField(blank=True, help_text="Last day replaced; the last of the file's if not said.", null=True),
        ),
        migrations.AddField(
            model_name='harvestimportevent',
            name='shown',
            field=models.CharField(blank=True, db_default='', default='', editable=False, max_length=64),
        ),
        migrations.AddField(
            model_name='importproblem',
            name='sheet',
            field=models.CharField(blank=True, db_default='', default='', help_text='Of a workbook.', max_length=80),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."date_order", new_values."decimal_mark", new_values."delimiter", new_values."dry_run", new_values."encoding", new_values."explanation", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."finished_at", new_values."id", new_values."mapping", new_values."on_problem", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."questions", new_values."remember", new_values."replaces", new_values."replaces_from", new_values."replaces_until", new_values."rows_added", new_values."rows_changed", new_values."rows_read", new_values."rows_refused", new_values."rows_retired", new_values."rows_unchanged", new_values."rows_warned", new_values."series", new_values."sheet", new_values."shown", new_values."state", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='1a07d46aba2e0659f7b304ad9dc90b564209af1f', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_c477f', referencing='REFERENCING NEW TABLE AS new_values ', table='records_harvestimport', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."date_order", new_values."decimal_mark", new_values."delimiter", new_values."dry_run", new_values."encoding", new_values."explanation", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."finished_at", new_values."id", new_values."mapping", new_values."on_problem", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."questions", new_values."remember", new_values."replaces", new_values."replaces_from", new_values."replaces_until", new_values."rows_added", new_values."rows_changed", new_values."rows_read", new_values."rows_refused", new_values."rows_retired", new_values."rows_unchanged", new_values."rows_warned", new_values."series", new_values."sheet", new_values."shown", new_values."state", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."date_order" IS DISTINCT FROM (new_values."date_order") OR old_values."decimal_mark" IS DISTINCT FROM (new_values."decimal_mark") OR old_values."delimiter" IS DISTINCT FROM (new_values."delimiter") OR old_values."dry_run" IS DISTINCT FROM (new_values."dry_run") OR old_values."encoding" IS DISTINCT FROM (new_values."encoding") OR old_values."explanation" IS DISTINCT FROM (new_values."explanation") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."file_name" IS DISTINCT FROM (new_values."file_name") OR old_values."file_sha256" IS DISTINCT FROM (new_values."file_sha256") OR old_values."finished_at" IS DISTINCT FROM (new_values."finished_at") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."mapping" IS DISTINCT FROM (new_values."mapping") OR old_values."on_problem" IS DISTINCT FROM (new_values."on_problem") OR old_values."questions" IS DISTINCT FROM (new_values."questions") OR old_values."remember" IS DISTINCT FROM (new_values."remember") OR old_values."replaces" IS DISTINCT FROM (new_values."replaces") OR old_values."replaces_from" IS DISTINCT FROM (new_values."replaces_from") OR old_values."replaces_until" IS DISTINCT FROM (new_values."replaces_until") OR old_values."rows_added" IS DISTINCT FROM (new_values."rows_added") OR old_values."rows_changed" IS DISTINCT FROM (new_values."rows_changed") OR old_values."rows_read" IS DISTINCT FROM (new_values."rows_read") OR old_values."rows_refused" IS DISTINCT FROM (new_values."rows_refused") OR old_values."rows_retired" IS DISTINCT FROM (new_values."rows_retired") OR old_values."rows_unchanged" IS DISTINCT FROM (new_values."rows_unchanged") OR old_values."rows_warned" IS DISTINCT FROM (new_values."rows_warned") OR old_values."series" IS DISTINCT FROM (new_values."series") OR old_values."sheet" IS DISTINCT FROM (new_values."sheet") OR old_values."shown" IS DISTINCT FROM (new_values."shown") OR old_values."state" IS DISTINCT FROM (new_values."state") OR old_values."unit" IS DISTINCT FROM (new_values."unit") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='31f68b6ad2ff23788e8e2437645f04ca22712f73', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_a413a', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_harvestimport', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT old_values."co_op_id", old_values."created_by_id", old_values."date_order", old_values."decimal_mark", old_values."delimiter", old_values."dry_run", old_values."encoding", old_values."explanation", old_values."farm_id", old_values."file_name", old_values."file_sha256", old_values."finished_at", old_values."id", old_values."mapping", old_values."on_problem", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."questions", old_values."remember", old_values."replaces", old_values."replaces_from", old_values."replaces_until", old_values."rows_added", old_values."rows_changed", old_values."rows_read", old_values."rows_refused", old_values."rows_retired", old_values."rows_unchanged", old_values."rows_warned", old_values."series", old_values."sheet", old_values."shown", old_values."state", old_values."unit", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='a01a7115dfaabe683cb94471c5cc5896ebd62c67', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_2721b', referencing='REFERENCING OLD TABLE AS old_values ', table='records_harvestimport', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('replaces', False), models.Q(('on_problem', 'skip'), _negated=True), _connector='OR'), name='replacement_leaves_no_row_out', violation_error_message='A replacement needs every row: a weighing whose row is left out would pass for gone.'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('replaces', True), models.Q(('replaces_from__isnull', True), ('replaces_until__isnull', True)), _connector='OR'), name='replaced_span_is_of_a_replacement', violation_error_message='A span is for a replacement: send replaces as well.'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('replaces_from__isnull', True), ('replaces_until__isnull', True), ('replaces_until__gte', models.F('replaces_from')), _connector='OR'), name='replaced_span_ends_after_it_starts', violation_error_message='The span ends before it starts.'),
        ),
    ]
