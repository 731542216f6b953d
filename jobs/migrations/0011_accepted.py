"""A stage between the client's yes and the deposit, and until when a job is held without one."""

from django.db import migrations, models

STAGES = [
    ("enquiry", "enquiry"), ("priced", "priced"), ("offered", "offered"), ("accepted", "accepted"),
    ("booked", "booked"), ("ready", "ready"), ("up", "up"), ("down", "down"), ("closed", "closed"),
    ("lapsed", "lapsed"), ("declined", "declined"), ("called_off", "called off"),
]  # fmt: skip


class Migration(migrations.Migration):
    dependencies = [("jobs", "0010_call_off_not_below_zero")]

    operations = [
        migrations.AlterField(
            model_name="job",
            name="stage",
            field=models.CharField(choices=STAGES, default="enquiry", max_length=10),
        ),
        migrations.AddField(
            model_name="job",
            name="held_until",
            field=models.DateField(blank=True, null=True),
        ),
    ]
