"""Rows are called what they are: a membership, a submitted form, an outgoing mail."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import studio.permissions


class Migration(migrations.Migration):
    dependencies = [("studio", "0007_late_kit_days")]

    operations = [
        migrations.RenameModel("Seat", "Membership"),
        migrations.RenameModel("Press", "SubmittedForm"),
        migrations.RenameModel("Letter", "OutgoingMail"),
        migrations.RemoveConstraint("membership", "one_seat_each"),
        migrations.RemoveConstraint("submittedform", "press_once"),
        migrations.AlterField(
            "membership",
            "person",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="memberships",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AlterField(
            "membership",
            "studio",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="memberships",
                to="studio.studio",
            ),
        ),
        migrations.AlterField(
            "membership",
            "role",
            models.CharField(
                choices=studio.permissions.role_choices, default="owner", max_length=8
            ),
        ),
        migrations.AddConstraint(
            "membership",
            models.UniqueConstraint(fields=("studio", "person"), name="one_membership_each"),
        ),
        migrations.AddConstraint(
            "submittedform",
            models.UniqueConstraint(fields=("studio", "key"), name="submitted_once"),
        ),
    ]
