from django.db import migrations

JOB = 'job:'


def take_holders_over(apps, schema_editor):
    """Each job has the row by which the stores know it, found by the text that named it until now."""
    Job, Holder = apps.get_model('jobs', 'Job'), apps.get_model('pricing', 'Holder')
    for holder in Holder.objects.filter(about__startswith=JOB):
        number = holder.about.removeprefix(JOB)
        job = Job.objects.filter(studio=holder.studio_id, number=int(number)).first() if number.isdecimal() else None
        if job is None:
            continue
        Job.objects.filter(pk=job.pk).update(holder=holder)
        if holder.title == holder.about:  # nothing stood beside the text
            Holder.objects.filter(pk=holder.pk).update(title=f'{job.number:04d} {job.title}'[:160])


def give_holders_back(apps, schema_editor):
    Job, Holder = apps.get_model('jobs', 'Job'), apps.get_model('pricing', 'Holder')
    for job in Job.objects.exclude(holder=None):
        Holder.objects.filter(pk=job.holder_id).update(about=f'{JOB}{job.number}')
    Job.objects.update(holder=None)


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0017_holder'),
        ('pricing', '0012_holders_of_before'),
    ]
    run_before = [
        ('pricing', '0013_held_by_rows'),  # which forgets the text
    ]

    operations = [
        migrations.RunPython(take_holders_over, give_holders_back),
    ]
