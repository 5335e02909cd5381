import witnessmark.shop.models.found_by
from django.db import migrations, models

AT_ONCE = 500


def fill(apps, schema_editor):
    model = apps.get_model('shop', 'Machine')
    column = model._meta.get_field('found_by')
    keys = list(model.objects.order_by('pk').values_list('pk', flat=True))
    for first in range(0, len(keys), AT_ONCE):
        rows = list(model.objects.filter(pk__in=keys[first:first + AT_ONCE]).select_related('owner'))
        for row in rows:
            row.found_by = column.of(row)
        model.objects.bulk_update(rows, ['found_by'])


class Migration(migrations.Migration):

    dependencies = [
        ('shop', '0013_years'),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name='machine',
            name='machines_in_order',
        ),
        migrations.AddField(
            model_name='machine',
            name='found_by',
            field=witnessmark.shop.models.found_by.FoundBy(codes=('plate', 'identification'), default='', editable=False, max_length=300, names=('maker', 'model', 'owner.name')),
        ),
        migrations.AddIndex(
            model_name='machine',
            index=models.Index(fields=['shop', 'maker', 'model', 'plate', 'found_by'], name='machines_to_find'),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
