import django.db.models.deletion
from django.db import migrations, models


def held(**more):
    return models.ForeignKey(
        null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='pricing.holder', **more
    )


class Migration(migrations.Migration):
    """What stock and kit are held for gets a row; until 0013 rows say it in text too."""

    dependencies = [
        ('pricing', '0010_kit_wishes'),
        ('studio', '0007_late_kit_days'),
    ]

    operations = [
        migrations.CreateModel(
            name='Holder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('title', models.CharField(max_length=160)),
                ('about', models.CharField(default='', max_length=40)),  # as rows named it in text
                ('studio', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='studio.studio')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField('kitbooking', 'holder', held()),
        migrations.AddField('kitwish', 'holder', held()),
        migrations.AddField('kitnote', 'holder', held()),
        migrations.AddField('reservation', 'holder', held()),
        migrations.AddField('stockmove', 'holder', held()),
        migrations.AddField(
            'stockmove', 'order',
            models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='pricing.purchaseorder'),
        ),
        # Both would stand in the way of going back, where the text is empty for a while.
        migrations.RemoveConstraint('reservation', 'reserved_once'),
        migrations.RemoveIndex('kitwish', 'kit_wished_by'),
    ]
