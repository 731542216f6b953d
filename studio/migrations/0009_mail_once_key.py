from django.db import migrations, models


class Migration(migrations.Migration):
    """What tells a mail from its like is called what it is; no row is found by it."""

    dependencies = [
        ('studio', '0008_renamed'),
    ]

    operations = [
        migrations.RemoveConstraint('outgoingmail', 'letter_once'),
        migrations.RenameField('outgoingmail', 'about', 'once_key'),
        migrations.AddConstraint(
            'outgoingmail',
            models.UniqueConstraint(fields=('studio', 'kind', 'once_key', 'to'), name='letter_once'),
        ),
    ]
