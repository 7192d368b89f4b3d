import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('pghistory', '0007_auto_20250421_0444'),
        ('planning', '0005_settlement'),
        ('records', '0004_staged_weighings'),
    ]

    operations = [
        migrations.CreateModel(
            name='ClosedSeason',
            fields=[
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, primary_key=True, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('updated_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('fingerprint', models.BinaryField(null=True)),
                ('tick', models.BigIntegerField(editable=False, null=True)),
                ('season_year', models.SmallIntegerField(help_text="The year in which each farm's own season starts.")),
                ('basis', models.CharField(choices=[('picked', 'farm weighings'), ('received', 'net weight at intake'), ('packed', 'by grade after sorting')], editable=False, max_length=10)),
                ('closed_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('note', models.CharField(blank=True, max_length=500)),
                ('objections', models.JSONField(blank=True, default=list, editable=False)),
                ('closed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('co_op', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.coop')),
            ],
            options={
                'abstract': False,
                'indexes': [models.Index(fields=['created_at', 'id'], name='closed_season_listed')],
                'constraints': [models.UniqueConstraint(fields=('co_op', 'season_year'), name='closed_season_once')],
                'triggers': [pgtrigger.compiler.Trigger(name='touch', sql=pgtrigger.compiler.UpsertTriggerSql(execute='orchard_touch()', func='RETURN NULL;', hash='c39152c70be95545e02ecc5833396dfcd98cc728', operation='INSERT OR UPDATE', pgid='pgtrigger_touch_196f8', table='planning_closedseason', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_closedseasonevent" ("basis", "closed_at", "closed_by_id", "co_op_id", "id", "note", "objections", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "season_year", "version") SELECT new_values."basis", new_values."closed_at", new_values."closed_by_id", new_values."co_op_id", new_values."id", new_values."note", new_values."objections", _pgh_attached_context.value, NOW(), \'insert\', new_values."id", new_values."season_year", new_values."version" FROM ( SELECT new_values.* FROM new_values  ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='2440c6f27f3e9f896886de2647e33a2393f8428a', level='STATEMENT', operation='INSERT', pgid='pgtrigger_insert_insert_70729', referencing='REFERENCING NEW TABLE AS new_values ', table='planning_closedseason', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_closedseasonevent" ("basis", "closed_at", "closed_by_id", "co_op_id", "id", "note", "objections", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "season_year", "version") SELECT new_values."basis", new_values."closed_at", new_values."closed_by_id", new_values."co_op_id", new_values."id", new_values."note", new_values."objections", _pgh_attached_context.value, NOW(), \'update\', new_values."id", new_values."season_year", new_values."version" FROM ( SELECT new_values.* FROM old_values JOIN new_values ON (old_values."id") = (new_values."id") WHERE (old_values."basis" IS DISTINCT FROM (new_values."basis") OR old_values."closed_at" IS DISTINCT FROM (new_values."closed_at") OR old_values."closed_by_id" IS DISTINCT FROM (new_values."closed_by_id") OR old_values."co_op_id" IS DISTINCT FROM (new_values."co_op_id") OR old_values."id" IS DISTINCT FROM (new_values."id") OR old_values."note" IS DISTINCT FROM (new_values."note") OR old_values."objections" IS DISTINCT FROM (new_values."objections") OR old_values."season_year" IS DISTINCT FROM (new_values."season_year") OR old_values."version" IS DISTINCT FROM (new_values."version")) ) AS new_values, _pgh_attached_context; RETURN NULL;', hash='ced77ec8220ea059e8afb19a55237fd82f532ffc', level='STATEMENT', operation='UPDATE', pgid='pgtrigger_update_update_84a1b', referencing='REFERENCING OLD TABLE AS old_values  NEW TABLE AS new_values ', table='planning_closedseason', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='WITH _pgh_attached_context AS ( SELECT _pgh_attach_context() AS value ) INSERT INTO "planning_closedseasonevent" ("basis", "closed_at", "closed_by_id", "co_op_id", "id", "note", "objections", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "season_year", "version") SELECT old_values."basis", old_values."closed_at", old_values."closed_by_id", old_values."co_op_id", old_values."id", old_values."note", old_values."objections", _pgh_attached_context.value, NOW(), \'delete\', old_values."id", old_values."season_year", old_values."version" FROM ( SELECT old_values.* FROM old_values  ) AS old_values, _pgh_attached_context; RETURN NULL;', hash='696932ea5f8c5a51ae2b6008b6cdb89023073526', level='STATEMENT', operation='DELETE', pgid='pgtrigger_delete_delete_55a74', referencing='REFERENCING OLD TABLE AS old_values ', table='planning_closedseason', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='ClosedKilos',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('farm_id', models.UUIDField()),
                ('block_id', models.UUIDField(null=True)),
                ('cultivar_id', models.UUIDField(null=True)),
                ('species_id', models.UUIDField(null=True)),
                ('grade_id', models.UUIDField(null=True)),
                ('co_op_grade_id', models.UUIDField(null=True)),
                ('reject_reason', models.CharField(max_length=120)),
                ('marketable', models.BooleanField(null=True)),
                ('crop_name', models.CharField(max_length=40, null=True)),
                ('day', models.DateField()),
                ('basis', models.CharField(max_length=10)),
                ('member_basis', models.CharField(max_length=10)),
                ('net_g', models.BigIntegerField()),
                ('estimated_g', models.BigIntegerField()),
                ('fruit_count', models.BigIntegerField()),
                ('counted_g', models.BigIntegerField()),
                ('counted_fruit', models.BigIntegerField()),
                ('records', models.BigIntegerField()),
                ('closed_season', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='kilos', to='planning.closedseason')),
            ],
            options={
                'verbose_name_plural': 'closed kilos',
            },
        ),
        migrations.CreateModel(
            name='ClosedSeasonEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.UUIDField(default=uuid_utils.compat.uuid7, serialize=False)),
                ('version', models.PositiveIntegerField(db_default=1, default=1, editable=False)),
                ('season_year', models.SmallIntegerField(help_text="The year in which each farm's own season starts.")),
                ('basis', models.CharField(choices=[('picked', 'farm weighings'), ('received', 'net weight at intake'), ('packed', 'by grade after sorting')], editable=False, max_length=10)),
                ('closed_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('note', models.CharField(blank=True, max_length=500)),
                ('objections', models.JSONField(blank=True, default=list, editable=False)),
                ('closed_by', models.ForeignKey(db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('co_op', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='records.coop')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='planning.closedseason')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='076ea1bcaed8b35bdb3a8e88fce15e701ef4b22d', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_a4395', table='planning_closedseasonevent', when='BEFORE'))],
            },
        ),
        migrations.CreateModel(
            name='ClosedStand',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=10)),
                ('farm_id', models.UUIDField()),
                ('block_id', models.UUIDField(null=True)),
                ('cultivar_id', models.UUIDField(null=True)),
                ('species_id', models.UUIDField(null=True)),
                ('member_basis', models.CharField(max_length=10)),
                ('bearing_trees', models.PositiveIntegerField(null=True)),
                ('area_m2', models.FloatField(null=True)),
                ('closed_season', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='stands', to='planning.closedseason')),
            ],
        ),
    ]
