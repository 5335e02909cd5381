from django.db import migrations, models

import witnessmark.shop.ids


def one(apps, schema_editor):
    apps.get_model('shop', 'Installation').objects.using(schema_editor.connection.alias).create()


class Migration(migrations.Migration):

    dependencies = [
        ('shop', '0006_call_back'),
    ]

    operations = [
        migrations.AddField(
            model_name='shop',
            name='backup_days',
            field=models.PositiveSmallIntegerField(default=7),
        ),
        migrations.CreateModel(
            name='Installation',
            fields=[
                ('id', models.UUIDField(default=witnessmark.shop.ids.new_id, editable=False, primary_key=True, serialize=False)),
                ('restores', models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.RunPython(one, migrations.RunPython.noop),
    ]
