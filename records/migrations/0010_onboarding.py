import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('records', '0009_other_kinds'),
    ]

    operations = [
        migrations.CreateModel(
            name='Invitation',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('role', models.CharField(blank=True, choices=[('owner', 'owner'), ('manager', 'manager'), ('worker', 'field worker'), ('adviser', 'adviser')], help_text='On the farm; none in a co-op.', max_length=10)),
                ('name', models.CharField(blank=True, max_length=120)),
                ('email', models.EmailField(blank=True, help_text='Where the link is mailed to, if given.', max_length=254)),
                ('expires_at', models.DateTimeField()),
                ('secret_hash', models.CharField(editable=False, max_length=64)),
                ('mailed_hash', models.CharField(blank=True, editable=False, max_length=64)),
                ('mailed_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('revoked_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('accepted_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('accepted_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('co_op', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('farm', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.farm')),
            ],
            options={
                'abstract': False,
                'constraints': [models.CheckConstraint(condition=models.Q(('farm__isnull', False), ('co_op__isnull', False), _connector='XOR'), name='invitation_to_one_farm_or_one_co_op', violation_error_message='An invitation is to one farm or to one co-op.'), models.CheckConstraint(condition=models.Q(models.Q(('farm__isnull', False), ('role__in', ['owner', 'manager', 'worker', 'adviser'])), models.Q(('farm__isnull', True), ('role', '')), _connector='OR'), name='invitation_to_a_role_on_a_farm', violation_error_message='Give a role on the farm; staff of a co-op need none.')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='1f0f3da29771d087ed95adfc3d0c825d8b860446', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_fab50', table='records_invitation', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_invitationevent" ("accepted_at", "accepted_by_id", "co_op_id", "created_by_id", "email", "expires_at", "farm_id", "id", "mailed_at", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "revoked_at", "role", "version") SELECT new_values."accepted_at", new_values."accepted_by_id", new_values."co_op_id", new_values."created_by_id", new_values."email", new_values."expires_at", new_values."farm_id", new_values."id", new_values."mailed_at", new_values."name", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."revoked_at", new_values."role", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='bcc9e4d1c837d7cab78406c9e721480e5d910b04', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_304ca', referencing='REFERENCING NEW TABLE AS new_values ', table='records_invitation', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_invitationevent" ("accepted_at", "accepted_by_id", "co_op_id", "created_by_id", "email", "expires_at", "farm_id", "id", "mailed_at", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "revoked_at", "role", "version") SELECT new_values."accepted_at", new_values."accepted_by_id", new_values."co_op_id", new_values."created_by_id", new_values."email", new_values."expires_at", new_values."farm_id", new_values."id", new_values."mailed_at", new_values."name", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."revoked_at", new_values."role", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."accepted_at" IS DISTINCT FROM (new_values."accepted_at") OR old_values."accepted_by_id" IS DISTINCT FROM (new_values."accepted_by_id") OR old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."created_by_id" IS DISTINCT FROM (new_values."created_by_id") OR old_values."email" IS DISTINCT FROM (new_values."email") OR old_values."expires_at" IS DISTINCT FROM (new_values."expires_at") OR old_values."farm_id" IS DISTINCT FROM (new_values."farm_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."mailed_at" IS DISTINCT FROM (new_values."mailed_at") OR old_values."name" IS DISTINCT FROM (new_values."name") OR old_values."revoked_at" IS DISTINCT FROM (new_values."revoked_at") OR old_values."role" IS DISTINCT FROM (new_values."role") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='a11bbd9b84560e2f80ecd7857f767e399269d1d6', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_b25df', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='records_invitation', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "records_invitationevent" ("accepted_at", "accepted_by_id", "co_op_id", "created_by_id", "email", "expires_at", "farm_id", "id", "mailed_at", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "revoked_at", "role", "version") SELECT old_values."accepted_at", old_values."accepted_by_id", old_values."co_op_id", old_values."created_by_id", old_values."email", old_values."expires_at", old_values."farm_id", old_values."id", old_values."mailed_at", old_values."name", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."revoked_at", old_values."role", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='31a77ce945f364cc2d8fd4523bcfc854df1b8517', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_49362', referencing='REFERENCING OLD TABLE AS old_values ', table='records_invitation', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='InvitationEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('role', models.CharField(blank=True, choices=[('owner', 'owner'), ('manager', 'manager'), ('worker', 'field worker'), ('adviser', 'adviser')], help_text='On the farm; none in a co-op.', max_length=10)),
                ('name', models.CharField(blank=True, max_length=120)),
                ('email', models.EmailField(blank=True, help_text='Where the link is mailed to, if given.', max_length=254)),
                ('expires_at', models.DateTimeField()),
                ('mailed_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('revoked_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('accepted_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('accepted_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('co_op', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop')),
                ('created_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('farm', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.farm')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='records.invitation')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='acf529f04419121e7b19cbd633ef8bd2dda833a0', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_88c77', table='records_invitationevent', when='BEFORE'))],
            },
        ),
    ]
