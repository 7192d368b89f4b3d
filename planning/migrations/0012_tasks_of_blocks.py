import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('planning', '0011_rules_in_full'),
        ('records', '0012_derived_tombstones'),
    ]

    operations = [
        migrations.AlterField(
            model_name='nexttask',
            name='farm',
            field=models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='records.farm'),
        ),
    ]
