"""Rows are called what they are: a log entry, a cancellation, an event's move, saved pieces, a studio's practice.

The guards of what is written once stand on tables by name: they come off before, and return after migrate.
"""

import django.db.models.deletion
from django.db import migrations, models

WRITTEN_ONCE = ("jobs_happening", "jobs_calloff", "jobs_postponement")


def take_guards_off(apps, schema_editor):
    on = ' ON "{table}"' if schema_editor.connection.vendor == "postgresql" else ""
    for table in WRITTEN_ONCE:
        for verb in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f'DROP TRIGGER IF EXISTS "{table}_no_{verb}"' + on.format(table=table)
            )


class Migration(migrations.Migration):
    dependencies = [("jobs", "0015_closed_owing"), ("studio", "0008_renamed")]

    operations = [
        migrations.RunPython(take_guards_off, migrations.RunPython.noop),
        migrations.RenameModel("Happening", "LogEntry"),
        migrations.RenameModel("CallOff", "Cancellation"),
        migrations.RenameModel("Postponement", "EventMove"),
        migrations.RenameModel("KeptPiece", "SavedPiece"),
        migrations.RenameModel("Hands", "StudioPractice"),
        migrations.AlterField(
            "cancellation",
            "job",
            models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="cancellation",
                to="jobs.job",
            ),
        ),
        migrations.AlterField(
            "logentry",
            "job",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="log_entries",
                to="jobs.job",
            ),
        ),
        migrations.AlterField(
            "eventmove",
            "job",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="event_moves",
                to="jobs.job",
            ),
        ),
    ]
