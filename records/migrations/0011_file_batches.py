"""Several files sent together. A file leads to imports of its own farm only, as in 0002."""

from importlib import import_module

import django.contrib.postgres.fields
import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


foundation = import_module("records.migrations.0002_same_farm")


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('records', '0010_onboarding'),
    ]

    operations = [
        migrations.CreateModel(
            name='FileBatch',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('series', models.CharField(default='harvest', max_length=60)),
                ('dry_run', models.BooleanField(default=False)),
                ('on_problem', models.CharField(choices=[('reject', 'nothing lands when a row is refused'), ('skip', 'refused rows are left out')], default='reject', max_length=6)),
                ('co_op', models.ForeignKey(blank=True, help_text="Whose members' files these are; its staff then see the batch.", null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('created_by_token', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='records.token')),
            ],
            options={
                'verbose_name': 'file batch',
                'verbose_name_plural': 'file batches',
                'abstract': False,
                'indexes': [models.Index(fields=['created_at', 'id'], name='file_batch_listed')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='1a79dafaeb37c2615f29925b329474c79d4de160', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_df7cd', table='records_filebatch', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filebatchevent" ("co_op_id", "created_by_id", "created_by_token_id", "dry_run", "id", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."created_by_token_id", new_values."dry_run", new_values."id", new_values."on_problem", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."series", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='c7d113fe33fb90cef0d113a659e368b984b20973', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_e5051', referencing='REFERENCING NEW TABLE AS new_values ', table='records_filebatch', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filebatchevent" ("co_op_id", "created_by_id", "created_by_token_id", "dry_run", "id", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "version") SELECT new_values."co_op_id", new_values."created_by_id", new_values."created_by_token_id", new_values."dry_run", new_values."id", new_values."on_problem", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."series", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."created_by_token_id" IS DISTINCT FROM (new_values."created_by_token_id") OR old_values."dry_run" IS DISTINCT FROM (new_values."dry_run") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."on_problem" IS DISTINCT FROM (new_values."on_problem") OR old_values."series" IS DISTINCT FROM (new_values."series") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='f405f1da045c05f51281c19d8b2b98c7f09aa894', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_48feb', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_filebatch', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_filebatchevent" ("co_op_id", "created_by_id", "created_by_token_id", "dry_run", "id", "on_problem", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "series", "version") SELECT old_values."co_op_id", old_values."created_by_id", old_values."created_by_token_id", old_values."dry_run", old_values."id", old_values."on_problem", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."series", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='a6fa31636c965b094b5062cc67a6ee7f1d2e2954', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_366f7', referencing='REFERENCING OLD TABLE AS old_values ', table='records_filebatch', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='BatchFile',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('place', models.PositiveSmallIntegerField(help_text='Counted from 1, as sent.')),
                ('file_name', models.CharField(max_length=255)),
                ('folders', django.contrib.postgres.fields.ArrayField(base_field=models.CharField(max_length=255), default=list, size=None)),
                ('archive', models.CharField(blank=True, help_text='The ZIP it came in.', max_length=255)),
                ('size_bytes', models.PositiveIntegerField()),
                ('file_sha256', models.CharField(max_length=64)),
                ('content', models.BinaryField(null=True)),
                ('state', models.CharField(choices=[('question', 'waits to be told its farm'), ('started', 'was started as an import'), ('already-sent', 'was sent before'), ('dropped', 'was dropped'), ('ignored', 'is no file of a member')], default='question', max_length=12)),
                ('reason', models.CharField(help_text='Why it is so, in plain words.', max_length=1000)),
                ('candidates', models.JSONField(default=list)),
                ('farm', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='records.harvestimport')),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='files', to='records.filebatch')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(condition=models.Q(('state', 'question')), fields=['created_at'], name='batch_file_waiting')],
                'constraints': [models.UniqueConstraint(fields=('batch', 'place'), name='batch_file_once_a_place'), models.CheckConstraint(condition=models.Q(models.Q(('content__isnull', False), ('state', 'question')), models.Q(models.Q(('state', 'question'), _negated=True), ('content__isnull', True)), _connector='OR'), name='batch_file_kept_while_it_waits')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='cc2b2697533e6cb007982ad4c0b52d8bf5272239', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_91f04', table='records_batchfile', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_batchfileevent" ("archive", "batch_id", "candidates", "farm_id", "file_name", "file_sha256", "folders", "harvest_import_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "reason", "size_bytes", "state", "version") SELECT new_values."archive", new_values."batch_id", new_values."candidates", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."folders", new_values."harvest_import_id", new_values."id", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."place", new_values."reason", new_values."size_bytes", new_values."state", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='26b113a6bf6824e2a4c5f80219d420786446126b', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_a6811', referencing='REFERENCING NEW TABLE AS new_values ', table='records_batchfile', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_batchfileevent" ("archive", "batch_id", "candidates", "farm_id", "file_name", "file_sha256", "folders", "harvest_import_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "reason", "size_bytes", "state", "version") SELECT new_values."archive", new_values."batch_id", new_values."candidates", new_values."farm_id", new_values."file_name", new_values."file_sha256", new_values."folders", new_values."harvest_import_id", new_values."id", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."place", new_values."reason", new_values."size_bytes", new_values."state", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."archive" IS DISTINCT FROM (new_values."archive") OR old_values."batch_id" IS DISTINCT FROM (new_values."batch_id") OR old_values."candidates" IS DISTINCT FROM (new_values."candidates") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."file_name" IS DISTINCT FROM (new_values."file_name") OR old_values."file_sha256" IS DISTINCT FROM (new_values."file_sha256") OR old_values."folders" IS DISTINCT FROM (new_values."folders") OR old_values."harvest_import_id" IS DISTINCT FROM (new_values."harvest_import_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."place" IS DISTINCT FROM (new_values."place") OR old_values."reason" IS DISTINCT FROM (new_values."reason") OR old_values."size_bytes" IS DISTINCT FROM (new_values."size_bytes") OR old_values."state" IS DISTINCT FROM (new_values."state") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='11ca8cec0956b21062c4e7ee6664425a79dd4d7c', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_db629', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_batchfile', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_batchfileevent" ("archive", "batch_id", "candidates", "farm_id", "file_name", "file_sha256", "folders", "harvest_import_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "reason", "size_bytes", "state", "version") SELECT old_values."archive", old_values."batch_id", old_values."candidates", old_values."farm_id", old_values."file_name", old_values."file_sha256", old_values."folders", old_values."harvest_import_id", old_values."id", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."place", old_values."reason", old_values."size_bytes", old_values."state", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='3031123cc21bf9d5904d2a90d4363c965a593ea8', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_8f837', referencing='REFERENCING OLD TABLE AS old_values ', table='records_batchfile', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='BatchFileEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('place', models.PositiveSmallIntegerField(help_text='Counted from 1, as sent.')),
                ('file_name', models.CharField(max_length=255)),
                ('folders', django.contrib.postgres.fields.ArrayField(base_field=models.CharField(max_length=255), default=list, size=None)),
                ('archive', models.CharField(blank=True, help_text='The ZIP it came in.', max_length=255)),
                ('size_bytes', models.PositiveIntegerField()),
                ('file_sha256', models.CharField(max_length=64)),
                ('state', models.CharField(choices=[('question', 'waits to be told its farm'), ('started', 'was started as an import'), ('already-sent', 'was sent before'), ('dropped', 'was dropped'), ('ignored', 'is no file of a member')], default='question', max_length=12)),
                ('reason', models.CharField(help_text='Why it is so, in plain words.', max_length=1000)),
                ('candidates', models.JSONField(default=list)),
                ('farm', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('harvest_import', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.harvestimport')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='records.batchfile')),
                ('batch', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.filebatch')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='54a547172fe6a309d59f6a90bd5595d3c2560b64', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_f15a8', table='records_batchfileevent', when='BEFORE'))],
            },
        ),
        migrations.CreateModel(
            name='FileBatchEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('series', models.CharField(default='harvest', max_length=60)),
                ('dry_run', models.BooleanField(default=False)),
                ('on_problem', models.CharField(choices=[('reject', 'nothing lands when a row is refused'), ('skip', 'refused rows are left out')], default='reject', max_length=6)),
                ('co_op', models.ForeignKey(blank=True, db_constraint=False, help_text="Whose members' files these are; its staff then see the batch.", null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('created_by_token', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.token')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='records.filebatch')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='b2720daa6854bdb9aadc799bef7435d2b49bd922', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_9364b', table='records_filebatchevent', when='BEFORE'))],
            },
        ),
        foundation.same_farm("batchfile", "harvest_import_id", "harvestimport"),
    ]
