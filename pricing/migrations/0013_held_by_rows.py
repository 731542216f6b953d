import django.db.models.deletion
from django.db import migrations, models


def holder():
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='pricing.holder')


class Migration(migrations.Migration):
    """Rows name their holder and nothing in text. What owns a holder takes it over before (`run_before`)."""

    dependencies = [
        ('pricing', '0012_holders_of_before'),
    ]

    operations = [
        # On the way back rows have nothing in text until 0012 says it again.
        *(
            migrations.AlterField(row, name, models.CharField(default='', max_length=length))
            for row in ('kitbooking', 'kitwish', 'reservation')
            for name, length in (('about', 40), ('title', 160))
        ),
        migrations.RemoveField('kitbooking', 'about'),
        migrations.RemoveField('kitbooking', 'title'),
        migrations.RemoveField('kitwish', 'about'),
        migrations.RemoveField('kitwish', 'title'),
        migrations.RemoveField('kitnote', 'about'),
        migrations.RemoveField('reservation', 'about'),
        migrations.RemoveField('reservation', 'title'),
        migrations.RemoveField('stockmove', 'about'),
        migrations.RemoveField('holder', 'about'),
        migrations.AlterField('kitbooking', 'holder', holder()),
        migrations.AlterField('kitwish', 'holder', holder()),
        migrations.AlterField('reservation', 'holder', holder()),
        migrations.AddConstraint(
            'reservation', models.UniqueConstraint(fields=('holder', 'key'), name='reserved_once')
        ),
    ]
