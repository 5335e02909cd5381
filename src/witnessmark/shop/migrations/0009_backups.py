from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('shop', '0008_receipts'),
    ]

    operations = [
        migrations.AddField(
            model_name='shop',
            name='restores',
            field=models.PositiveIntegerField(default=0, editable=False),
        ),
        migrations.AddField(
            model_name='shop',
            name='backup_days',
            field=models.PositiveSmallIntegerField(default=7),
        ),
    ]
