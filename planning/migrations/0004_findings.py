import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.db import migrations, models

from planning.migrations._links import same_farm, tick_indexes


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('planning', '0003_roll_ups'),
        ('records', '0004_staged_weighings'),
    ]

    operations = [
        migrations.CreateModel(
            name='FindingRun',
            fields=[
                ('farm', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='finding_run', serialize=False, to='records.farm')),
                ('tick', models.BigIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name='Finding',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('key', models.CharField(max_length=60)),
                ('kind', models.CharField(choices=[('unit-slip', 'pounds for kilos, or kilos for pounds'), ('tenfold-slip', 'a decimal place or two off'), ('swapped-date', 'day and month swapped'), ('recorded-twice', 'recorded twice'), ('no-bearing-trees', 'fruit from a block on which no tree bears'), ('fruit-weight', 'fruit heavier or lighter than published')], max_length=16)),
                ('season_year', models.SmallIntegerField(help_text='The year the season starts in.')),
                ('season_label', models.CharField(max_length=7)),
                ('about_on', models.DateField(help_text='The first day of the rows that it is about.')),
                ('rows', models.JSONField(help_text='What it is about: kind and id of each record.')),
                ('sentence', models.CharField(max_length=600)),
                ('sure', models.CharField(choices=[('high', 'sure'), ('medium', 'likely'), ('low', 'one of two')], max_length=6)),
                ('evidence', models.JSONField()),
                ('fix', models.JSONField(null=True)),
                ('effect_g', models.BigIntegerField(default=0)),
                ('state', models.CharField(choices=[('open', 'to be looked at'), ('applied', 'its fix was applied'), ('dismissed', 'nothing is wrong'), ('reversed', 'its fix was taken back'), ('outdated', 'its rows say something else now')], default='open', max_length=9)),
                ('decision', models.CharField(blank=True, choices=[('open', 'to be looked at'), ('applied', 'its fix was applied'), ('dismissed', 'nothing is wrong'), ('reversed', 'its fix was taken back'), ('outdated', 'its rows say something else now')], max_length=9)),
                ('note', models.CharField(blank=True, max_length=500)),
                ('decided_by', models.CharField(blank=True, max_length=254)),
                ('decided_at', models.DateTimeField(null=True)),
                ('applied', models.JSONField(help_text='The rows as they were before the fix, and their versions after it.', null=True)),
                ('block', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.block')),
                ('co_op', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(db_constraint=False, help_text='The file by which its rows came in, if they did by one.', null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='records.harvestimport')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', 'about_on', 'id'], name='finding_of_a_farm'), models.Index(fields=['about_on', 'id'], name='finding_by_day'), models.Index(fields=['created_at', 'id'], name='finding_listed')],
                'constraints': [models.UniqueConstraint(fields=('farm', 'key'), name='finding_once'), models.CheckConstraint(condition=models.Q(models.Q(('decided_at__isnull', True), ('decision', '')), models.Q(models.Q(('decision', ''), _negated=True), ('decided_at__isnull', False)), _connector='OR'), name='finding_decided_at_some_time'), models.CheckConstraint(condition=models.Q(models.Q(('decision', 'dismissed'), _negated=True), models.Q(('note', ''), _negated=True), _connector='OR'), name='finding_dismissed_with_a_note')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='68f2ac46e05e76b723ad73dadaf86544eee66724', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_7043b', table='planning_finding', when='BEFORE')), pgtrigger.compiler.Trigger(name='stamp', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (NEW."tick" IS NULL AND NEW."farm_id" IS NOT NULL)', constraint='CONSTRAINT', execute="orchard_stamp('farm_id', 'true')", func='RETURN NULL;', hash='34e891685f1db36f54e60e600ff0fa689e0a5aad', operation='INSERT OR UPDATE', pgid='pgtrigger_stamp_712e5', table='planning_finding', timing='DEFERRABLE INITIALLY DEFERRED', when='AFTER')), pgtrigger.compiler.Trigger(name='tombstone', sql=pgtrigger.compiler.UpsertTriggerSql(func='\n            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at, is_derived)\n            SELECT "farm_id", TG_TABLE_NAME, id, now(), true FROM gone WHERE "farm_id" IS NOT NULL;\n            RETURN NULL;\n            ', hash='c88cc33a8b95a9c0a296ebf6789aeafff94656ce', level='STATEMENT', operation='DELETE', pgid='pgtrigger_tombstone_bc0b0', referencing='REFERENCING OLD TABLE AS gone ', table='planning_finding', when='AFTER')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_findingevent" ("about_on", "applied", "block_id", "co_op_id", "decided_at", "decided_by", "decision", "farm_id", "harvest_import_id", "id", "key", "kind", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "rows", "season_label", "season_year", "state", "version") SELECT new_values."about_on", new_values."applied", new_values."block_id", new_values."co_op_id", new_values."decided_at", new_values."decided_by", new_values."decision", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."key", new_values."kind", new_values."note", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."rows", new_values."season_label", new_values."season_year", new_values."state", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='cb37dbfa10049fe171fe3ff4aecaaf9f926d4199', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_d11a9', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_finding', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_findingevent" ("about_on", "applied", "block_id", "co_op_id", "decided_at", "decided_by", "decision", "farm_id", "harvest_import_id", "id", "key", "kind", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "rows", "season_label", "season_year", "state", "version") SELECT new_values."about_on", new_values."applied", new_values."block_id", new_values."co_op_id", new_values."decided_at", new_values."decided_by", new_values."decision", new_values."farm_id", new_values."harvest_import_id", new_values."id", new_values."key", new_values."kind", new_values."note", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."rows", new_values."season_label", new_values."season_year", new_values."state", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."about_on" IS DISTINCT FROM (new_values."about_on") OR old_values."applied" IS DISTINCT FROM (new_values."applied") OR old_values."block_id" IS DISTINCT FROM (new_values."block_id") OR old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."decided_at" IS DISTINCT FROM (new_values."decided_at") OR old_values."decided_by" IS DISTINCT FROM (new_values."decided_by") OR old_values."decision" IS DISTINCT FROM (new_values."decision") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."harvest_import_id" IS DISTINCT FROM (new_values."harvest_import_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."key" IS DISTINCT FROM (new_values."key") OR old_values."kind" IS DISTINCT FROM (new_values."kind") OR old_values."note" IS DISTINCT FROM (new_values."note") OR old_values."rows" IS DISTINCT FROM (new_values."rows") OR old_values."season_label" IS DISTINCT FROM (new_values."season_label") OR old_values."season_year" IS DISTINCT FROM (new_values."season_year") OR old_values."state" IS DISTINCT FROM (new_values."state") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='acb6f1e83d0e195f4ad6d84250e3c8aa9cdfc9a9', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_dd2bb', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_finding', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_findingevent" ("about_on", "applied", "block_id", "co_op_id", "decided_at", "decided_by", "decision", "farm_id", "harvest_import_id", "id", "key", "kind", "note", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "rows", "season_label", "season_year", "state", "version") SELECT old_values."about_on", old_values."applied", old_values."block_id", old_values."co_op_id", old_values."decided_at", old_values."decided_by", old_values."decision", old_values."farm_id", old_values."harvest_import_id", old_values."id", old_values."key", old_values."kind", old_values."note", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."rows", old_values."season_label", old_values."season_year", old_values."state", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='df636fb043f63a23c3791d92c85e2d60d0283158', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_28260', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_finding', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='FindingEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('key', models.CharField(max_length=60)),
                ('kind', models.CharField(choices=[('unit-slip', 'pounds for kilos, or kilos for pounds'), ('tenfold-slip', 'a decimal place or two off'), ('swapped-date', 'day and month swapped'), ('recorded-twice', 'recorded twice'), ('no-bearing-trees', 'fruit from a block on which no tree bears'), ('fruit-weight', 'fruit heavier or lighter than published')], max_length=16)),
                ('season_year', models.SmallIntegerField(help_text='The year the season starts in.')),
                ('season_label', models.CharField(max_length=7)),
                ('about_on', models.DateField(help_text='The first day of the rows that it is about.')),
                ('rows', models.JSONField(help_text='What it is about: kind and id of each record.')),
                ('state', models.CharField(choices=[('open', 'to be looked at'), ('applied', 'its fix was applied'), ('dismissed', 'nothing is wrong'), ('reversed', 'its fix was taken back'), ('outdated', 'its rows say something else now')], default='open', max_length=9)),
                ('decision', models.CharField(blank=True, choices=[('open', 'to be looked at'), ('applied', 'its fix was applied'), ('dismissed', 'nothing is wrong'), ('reversed', 'its fix was taken back'), ('outdated', 'its rows say something else now')], max_length=9)),
                ('note', models.CharField(blank=True, max_length=500)),
                ('decided_by', models.CharField(blank=True, max_length=254)),
                ('decided_at', models.DateTimeField(null=True)),
                ('applied', models.JSONField(help_text='The rows as they were before the fix, and their versions after it.', null=True)),
                ('block', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.block')),
                ('co_op', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop')),
                ('farm', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(db_constraint=False, help_text='The file by which its rows came in, if they did by one.', null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.harvestimport')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='planning.finding')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['farm', '-pgh_created_at', '-pgh_id'], name='findingevent_farm')],
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='d6538d4b18cd877aafd40c72ef1da42c0f4b4e9e', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_31be3', table='planning_findingevent', when='BEFORE'))],
            },
        ),
        same_farm("finding", "block_id", "records_block", " ON DELETE CASCADE"),
        tick_indexes("finding"),
    ]
