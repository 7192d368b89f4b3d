"""What a co-op's kilos add up to, and what summaries were built from."""

import django.contrib.postgres.fields
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('planning', '0002_same_farm'),
        ('records', '0004_staged_weighings'),
    ]

    operations = [
        migrations.AddField(
            model_name='seasonsummary',
            name='sums',
            field=models.JSONField(editable=False, help_text="Of a member's row: what its co-op's add up.", null=True),
        ),
        migrations.CreateModel(
            name='StaleSeason',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('season_year', models.SmallIntegerField()),
                ('co_op', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
            ],
        ),
        migrations.CreateModel(
            name='DayRollUp',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('season_year', models.SmallIntegerField()),
                ('basis', models.CharField(choices=[('picked', 'farm weighings'), ('received', 'net weight at intake'), ('packed', 'by grade after sorting')], max_length=10)),
                ('reject_reason', models.CharField(blank=True, max_length=120)),
                ('marketable', models.BooleanField(null=True)),
                ('crop_name', models.CharField(max_length=40, null=True)),
                ('net_g', models.BigIntegerField()),
                ('estimated_g', models.BigIntegerField()),
                ('fruit_count', models.BigIntegerField()),
                ('counted_g', models.BigIntegerField()),
                ('counted_fruit', models.BigIntegerField()),
                ('records', models.IntegerField()),
                ('day', models.DateField()),
                ('co_op', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
                ('co_op_grade', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.coopgrade')),
                ('cultivar', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.cultivar')),
                ('grade', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.grade')),
            ],
            options={
                'indexes': [models.Index(fields=['co_op', 'season_year', 'day'], name='day_roll_up_season')],
            },
        ),
        migrations.CreateModel(
            name='MemberDays',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('season_year', models.SmallIntegerField()),
                ('basis', models.CharField(choices=[('picked', 'farm weighings'), ('received', 'net weight at intake'), ('packed', 'by grade after sorting')], max_length=10)),
                ('days', django.contrib.postgres.fields.ArrayField(base_field=models.DateField(), editable=False, size=None)),
                ('cultivar_ids', django.contrib.postgres.fields.ArrayField(base_field=models.UUIDField(null=True), editable=False, size=None)),
                ('grade_ids', django.contrib.postgres.fields.ArrayField(base_field=models.UUIDField(null=True), editable=False, size=None)),
                ('co_op_grade_ids', django.contrib.postgres.fields.ArrayField(base_field=models.UUIDField(null=True), editable=False, size=None)),
                ('reject_reasons', django.contrib.postgres.fields.ArrayField(base_field=models.CharField(max_length=120), editable=False, size=None)),
                ('marketables', django.contrib.postgres.fields.ArrayField(base_field=models.BooleanField(null=True), editable=False, size=None)),
                ('crop_names', django.contrib.postgres.fields.ArrayField(base_field=models.CharField(max_length=40, null=True), editable=False, size=None)),
                ('net_gs', django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), editable=False, size=None)),
                ('estimated_gs', django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), editable=False, size=None)),
                ('fruit_counts', django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), editable=False, size=None)),
                ('counted_gs', django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), editable=False, size=None)),
                ('counted_fruits', django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), editable=False, size=None)),
                ('record_numbers', django.contrib.postgres.fields.ArrayField(base_field=models.IntegerField(), editable=False, size=None)),
                ('co_op', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
                ('member', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('co_op', 'season_year', 'member'), name='member_days_once')],
            },
        ),
        migrations.CreateModel(
            name='MemberRollUp',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('season_year', models.SmallIntegerField()),
                ('basis', models.CharField(choices=[('picked', 'farm weighings'), ('received', 'net weight at intake'), ('packed', 'by grade after sorting')], max_length=10)),
                ('reject_reason', models.CharField(blank=True, max_length=120)),
                ('marketable', models.BooleanField(null=True)),
                ('crop_name', models.CharField(max_length=40, null=True)),
                ('net_g', models.BigIntegerField()),
                ('estimated_g', models.BigIntegerField()),
                ('fruit_count', models.BigIntegerField()),
                ('counted_g', models.BigIntegerField()),
                ('counted_fruit', models.BigIntegerField()),
                ('records', models.IntegerField()),
                ('co_op', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
                ('co_op_grade', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.coopgrade')),
                ('cultivar', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.cultivar')),
                ('grade', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='records.grade')),
                ('member', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm')),
            ],
            options={
                'indexes': [models.Index(fields=['co_op', 'season_year', 'member'], name='member_roll_up_season')],
            },
        ),
        migrations.CreateModel(
            name='SeenRecords',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('of_farm', models.CharField(max_length=64)),
                ('of_seasons', models.JSONField()),
                ('co_op', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.coop')),
                ('farm', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm')),
            ],
            options={
                'verbose_name_plural': 'seen records',
                'constraints': [models.UniqueConstraint(fields=('farm', 'co_op'), name='seen_records_once', nulls_distinct=False)],
            },
        ),
    ]
