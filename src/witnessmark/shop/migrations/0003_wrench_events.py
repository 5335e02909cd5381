from django.db import migrations


class Migration(migrations.Migration):
    """By itself: PostgreSQL alters no table that has rows of the same transaction still to check."""

    dependencies = [
        ("shop", "0002_wrenches"),
    ]

    operations = [
        migrations.RemoveField(
            model_name='wrench',
            name='calibrated_on',
        ),
        migrations.RemoveField(
            model_name='wrench',
            name='certificate',
        ),
    ]
