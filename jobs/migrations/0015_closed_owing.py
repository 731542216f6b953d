"""Whether money was still to be paid when a job was closed: of those that are closed, by plan and payments."""

from decimal import Decimal

from django.db import migrations, models
from django.db.models import Sum


def see_what_is_owing(apps, schema_editor):
    using = schema_editor.connection.alias
    jobs = apps.get_model("jobs", "Job").objects.using(using).filter(stage="closed")
    yeses = apps.get_model("jobs", "Acceptance").objects.using(using).filter(offer__job__in=jobs)
    owing = []
    for yes in yeses.select_related("offer").defer("certificate", "offer__pdf", "offer__article"):
        choices = {choice["letter"]: choice for choice in yes.offer.choices}
        schedule = choices.get(yes.choice, {}).get("schedule", yes.offer.schedule)
        total = sum((Decimal(due["amount"]) for due in schedule), Decimal(0))
        payments = apps.get_model("jobs", "Payment").objects.using(using).filter(job=yes.offer.job_id)
        if (payments.aggregate(sum=Sum("amount"))["sum"] or 0) < total:
            owing.append(yes.offer.job_id)
    jobs.filter(pk__in=owing).update(closed_owing=True)


class Migration(migrations.Migration):
    # Credit notes are left out: Today asks again what is due before it shows a job.
    dependencies = [("jobs", "0014_hand_of_the_last_save")]

    operations = [
        migrations.AddField(
            model_name="job",
            name="closed_owing",
            field=models.BooleanField(default=False),
        ),
        migrations.RunPython(see_what_is_owing, migrations.RunPython.noop),
    ]
