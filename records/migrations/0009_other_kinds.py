import django.db.models.deletion
import pgtrigger.compiler
import pgtrigger.migrations
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0008_members_sheets'),
    ]

    operations = [
        migrations.CreateModel(
            name='ImportedRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('record_id', models.UUIDField(help_text='Of the kind that the import is of.')),
                ('landed_version', models.PositiveIntegerField()),
                ('before', models.JSONField(help_text='Null for a record that the import added.', null=True)),
                ('sent', models.CharField(max_length=64)),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='records', to='records.harvestimport')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('harvest_import', 'record_id'), name='imported_record_once_a_row')],
            },
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='filelayout',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='filelayout',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='filelayout',
            name='delete_delete',
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
        migrations.RemoveConstraint(
            model_name='filelayout',
            name='file_layout_once_a_series',
        ),
        migrations.AddField(
            model_name='filelayout',
            name='kind',
            field=models.CharField(choices=[('harvest-weights', 'harvest weights'), ('intakes', 'intakes'), ('weather-days', 'weather days'), ('task-logs', 'task logs'), ('growth-stages', 'growth stages'), ('pollination-rounds', 'pollination rounds'), ('fruit-counts', 'fruit counts')], db_default='harvest-weights', default='harvest-weights', help_text='What the rows of the file become.', max_length=20),
        ),
        migrations.AddField(
            model_name='filelayoutevent',
            name='kind',
            field=models.CharField(choices=[('harvest-weights', 'harvest weights'), ('intakes', 'intakes'), ('weather-days', 'weather days'), ('task-logs', 'task logs'), ('growth-stages', 'growth stages'), ('pollination-rounds', 'pollination rounds'), ('fruit-counts', 'fruit counts')], db_default='harvest-weights', default='harvest-weights', help_text='What the rows of the file become.', max_length=20),
        ),
        migrations.AddField(
            model_name='harvestimport',
            name='kind',
            field=models.CharField(choices=[('harvest-weights', 'harvest weights'), ('intakes', 'intakes'), ('weather-days', 'weather days'), ('task-logs', 'task logs'), ('growth-stages', 'growth stages'), ('pollination-rounds', 'pollination rounds'), ('fruit-counts', 'fruit counts')], db_default='harvest-weights', default='harvest-weights', help_text='What the rows of the file become.', max_length=20),
        ),
        migrations.AddField(
            model_name='harvestimportevent',
            name='kind',
            field=models.CharField(choices=[('harvest-weights', 'harvest weights'), ('intakes', 'intakes'), ('weather-days', 'weather days'), ('task-logs', 'task logs'), ('growth-stages', 'growth stages'), ('pollination-rounds', 'pollination rounds'), ('fruit-counts', 'fruit counts')], db_default='harvest-weights', default='harvest-weights', help_text='What the rows of the file become.', max_length=20),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='filelayout',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filelayoutevent" ("date_order", "decimal_mark", "farm_id", "id", "kind", "mapping", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "unit", "version") SELECT new_values."date_order", new_values."decimal_mark", new_values."farm_id", new_values."id", new_values."kind", new_values."mapping", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."series", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='f41e8261e371aceb0561750b30fa88102af2c4aa', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_37545', referencing='REFERENCING NEW TABLE AS new_values ', table='records_filelayout', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='filelayout',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filelayoutevent" ("date_order", "decimal_mark", "farm_id", "id", "kind", "mapping", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "unit", "version") SELECT new_values."date_order", new_values."decimal_mark", new_values."farm_id", new_values."id", new_values."kind", new_values."mapping", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."series", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."date_order" IS DISTINCT FROM (new_values."date_order") OR old_values."decimal_mark" IS DISTINCT FROM (new_values."decimal_mark") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."kind" IS DISTINCT FROM (new_values."kind") OR old_values."mapping" IS DISTINCT FROM (new_values."mapping") OR old_values."series" IS DISTINCT FROM (new_values."series") OR old_values."unit" IS DISTINCT FROM (new_values."unit") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='514e772f0f71e6e0f0385a43fc728c1330c31daa', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_617bd', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_filelayout', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='filelayout',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filelayoutevent" ("date_order", "decimal_mark", "farm_id", "id", "kind", "mapping", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "unit", "version") SELECT old_values."date_order", old_values."decimal_mark", old_values."farm_id", old_values."id", old_values."kind", old_values."mapping", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."series", old_values."unit", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='e99dc7fddeb2597241eca66c89c17959238d5177', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_f2e8b', referencing='REFERENCING OLD TABLE AS old_values ', table='records_filelayout', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "kind", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."date_order", new_values."decimal_mark", new_values."delimiter", new_values."dry_run", new_values."encoding", new_values."explanation", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."finished_at", new_values."id", new_values."kind", new_values."mapping", new_values."on_problem", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."questions", new_values."remember", new_values."replaces", new_values."replaces_from", new_values."replaces_until", new_values."rows_added", new_values."rows_changed", new_values."rows_read", new_values."rows_refused", new_values."rows_retired", new_values."rows_unchanged", new_values."rows_warned", new_values."series", new_values."sheet", new_values."shown", new_values."state", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='f517b67ecdc655dce11e092e39c4cbe76953ed54', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_c477f', referencing='REFERENCING NEW TABLE AS new_values ', table='records_harvestimport', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "kind", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."date_order", new_values."decimal_mark", new_values."delimiter", new_values."dry_run", new_values."encoding", new_values."explanation", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."finished_at", new_values."id", new_values."kind", new_values."mapping", new_values."on_problem", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."questions", new_values."remember", new_values."replaces", new_values."replaces_from", new_values."replaces_until", new_values."rows_added", new_values."rows_changed", new_values."rows_read", new_values."rows_refused", new_values."rows_retired", new_values."rows_unchanged", new_values."rows_warned", new_values."series", new_values."sheet", new_values."shown", new_values."state", new_values."unit", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."date_order" IS DISTINCT FROM (new_values."date_order") OR old_values."decimal_mark" IS DISTINCT FROM (new_values."decimal_mark") OR old_values."delimiter" IS DISTINCT FROM (new_values."delimiter") OR old_values."dry_run" IS DISTINCT FROM (new_values."dry_run") OR old_values."encoding" IS DISTINCT FROM (new_values."encoding") OR old_values."explanation" IS DISTINCT FROM (new_values."explanation") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."file_name" IS DISTINCT FROM (new_values."file_name") OR old_values."file_sha256" IS DISTINCT FROM (new_values."file_sha256") OR old_values."finished_at" IS DISTINCT FROM (new_values."finished_at") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."kind" IS DISTINCT FROM (new_values."kind") OR old_values."mapping" IS DISTINCT FROM (new_values."mapping") OR old_values."on_problem" IS DISTINCT FROM (new_values."on_problem") OR old_values."questions" IS DISTINCT FROM (new_values."questions") OR old_values."remember" IS DISTINCT FROM (new_values."remember") OR old_values."replaces" IS DISTINCT FROM (new_values."replaces") OR old_values."replaces_from" IS DISTINCT FROM (new_values."replaces_from") OR old_values."replaces_until" IS DISTINCT FROM (new_values."replaces_until") OR old_values."rows_added" IS DISTINCT FROM (new_values."rows_added") OR old_values."rows_changed" IS DISTINCT FROM (new_values."rows_changed") OR old_values."rows_read" IS DISTINCT FROM (new_values."rows_read") OR old_values."rows_refused" IS DISTINCT FROM (new_values."rows_refused") OR old_values."rows_retired" IS DISTINCT FROM (new_values."rows_retired") OR old_values."rows_unchanged" IS DISTINCT FROM (new_values."rows_unchanged") OR old_values."rows_warned" IS DISTINCT FROM (new_values."rows_warned") OR old_values."series" IS DISTINCT FROM (new_values."series") OR old_values."sheet" IS DISTINCT FROM (new_values."sheet") OR old_values."shown" IS DISTINCT FROM (new_values."shown") OR old_values."state" IS DISTINCT FROM (new_values."state") OR old_values."unit" IS DISTINCT FROM (new_values."unit") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='67315a0ad1414125f257bab98a026c9d678f698e', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_a413a', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_harvestimport', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='harvestimport',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_harvestimportevent" ("co_op_id", "created_by_id", "date_order", "decimal_mark", "delimiter", "dry_run", "encoding", "explanation", "farm_id", "file_name", "file_sha256", "finished_at", "id", "kind", "mapping", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "questions", "remember", "replaces", "replaces_from", "replaces_until", "rows_added", "rows_changed", "rows_read", "rows_refused", "rows_retired", "rows_unchanged", "rows_warned", "series", "sheet", "shown", "state", "unit", "version") SELECT old_values."co_op_id", old_values."created_by_id", old_values."date_order", old_values."decimal_mark", old_values."delimiter", old_values."dry_run", old_values."encoding", old_values."explanation", old_values."farm_id", old_values."file_name", old_values."file_sha256", old_values."finished_at", old_values."id", old_values."kind", old_values."mapping", old_values."on_problem", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."questions", old_values."remember", old_values."replaces", old_values."replaces_from", old_values."replaces_until", old_values."rows_added", old_values."rows_changed", old_values."rows_read", old_values."rows_refused", old_values."rows_retired", old_values."rows_unchanged", old_values."rows_warned", old_values."series", old_values."sheet", old_values."shown", old_values."state", old_values."unit", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='09e14c6bd6507dcb0ddcdf4326828e66e64d5dcd', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_2721b', referencing='REFERENCING OLD TABLE AS old_values ', table='records_harvestimport', when='AFTER')),
        ),
        migrations.AddConstraint(
            model_name='filelayout',
            constraint=models.UniqueConstraint(fields=('farm', 'kind', 'series'), name='file_layout_once_a_series'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['harvest-weights', 'intakes', 'weather-days', 'task-logs', 'growth-stages', 'pollination-rounds', 'fruit-counts'])), name='harvest_import_kind_is_known'),
        ),
        migrations.AddConstraint(
            model_name='harvestimport',
            constraint=models.CheckConstraint(condition=models.Q(('replaces', False), ('kind', 'harvest-weights'), _connector='OR'), name='replacement_is_of_weighings', violation_error_message='Only a file of weighings can be sent as a replacement.'),
        ),
    ]
