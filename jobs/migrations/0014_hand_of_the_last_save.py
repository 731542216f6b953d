"""Which page saved a design last, and its how manieth save that was: nobody clashes with themselves."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0013_how_it_travels")]

    operations = [
        migrations.AddField(
            model_name="jobdesign",
            name="hand",
            field=models.CharField(blank=True, default="", max_length=36),
        ),
        migrations.AddField(
            model_name="jobdesign",
            name="step",
            field=models.PositiveIntegerField(default=0),
        ),
    ]
