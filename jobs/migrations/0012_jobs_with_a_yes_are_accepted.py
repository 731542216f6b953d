"""Jobs whose client said yes and whose deposit is not here go to the stage that says so.

Nothing was held for them, and nothing is held by this: Today says so, and the studio decides.
"""

from django.db import migrations

BEFORE_THE_YES = ("enquiry", "priced", "offered")


def say_accepted(apps, schema_editor):
    jobs = apps.get_model("jobs", "Job").objects.using(schema_editor.connection.alias)
    # With an offer of nought to pay first, the yes itself booked the job: those are further already.
    with_a_yes = jobs.filter(stage__in=BEFORE_THE_YES, offers__acceptance__isnull=False)
    jobs.filter(pk__in=with_a_yes.values("pk")).update(stage="accepted")


def say_offered(apps, schema_editor):
    jobs = apps.get_model("jobs", "Job").objects.using(schema_editor.connection.alias)
    jobs.filter(stage="accepted").update(stage="offered")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0011_accepted")]

    operations = [migrations.RunPython(say_accepted, say_offered)]
