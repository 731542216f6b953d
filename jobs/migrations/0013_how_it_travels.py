"""How much of a job's balloons the workshop builds before they travel; empty: by the least minutes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0012_jobs_with_a_yes_are_accepted")]

    operations = [
        migrations.AddField(
            model_name="job",
            name="built_percent",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
    ]
