import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0016_renamed'),
        ('pricing', '0011_holders'),
    ]

    operations = [
        migrations.AddField(
            model_name='job',
            name='holder',
            field=models.OneToOneField(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='job', to='pricing.holder'),
        ),
    ]
