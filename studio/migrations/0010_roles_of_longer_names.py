"""A role may have a longer name than those that there are."""

from django.db import migrations, models

import studio.permissions


class Migration(migrations.Migration):
    dependencies = [("studio", "0009_mail_once_key")]

    operations = [
        migrations.AlterField(
            "membership",
            "role",
            models.CharField(
                choices=studio.permissions.role_choices, default="owner", max_length=20
            ),
        ),
    ]
