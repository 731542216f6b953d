from contextlib import contextmanager

from django.db import migrations

NAMED = ('Reservation', 'KitWish', 'KitBooking')  # carry a title too
ALL = (*NAMED, 'StockMove', 'KitNote')
WRITTEN_ONCE = ('pricing_stockmove', 'pricing_kitnote')
ORDER = 'order:'


@contextmanager
def guards_lowered(schema_editor):
    """Takes off what keeps rows that are written once from being changed, and puts the same back."""
    connection = schema_editor.connection
    with connection.cursor() as cursor:
        lowered = [guard for table in WRITTEN_ONCE for guard in guards(connection, cursor, table)]
        for drop, _ in lowered:
            cursor.execute(drop)
        yield
        if connection.vendor == 'postgresql':  # what waits for the end of a transaction bars new triggers
            cursor.execute('SET CONSTRAINTS ALL IMMEDIATE')
        for _, make in lowered:
            cursor.execute(make)


def guards(connection, cursor, table):
    """How each guard of a table is dropped and made."""
    if connection.vendor == 'postgresql':
        cursor.execute(
            'SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE tgrelid = %s::regclass AND NOT tgisinternal',
            [table],
        )
        return [(f'DROP TRIGGER "{name}" ON "{table}"', made) for name, made in cursor.fetchall()]
    cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table])
    return [(f'DROP TRIGGER "{name}"', made) for name, made in cursor.fetchall()]


def name_holders(apps, schema_editor):
    """A holder for each text, with the newest title that stands beside it; what came with an order names that."""
    Holder, StockMove = apps.get_model('pricing', 'Holder'), apps.get_model('pricing', 'StockMove')
    with guards_lowered(schema_editor):
        for order in apps.get_model('pricing', 'PurchaseOrder').objects.defer('pdf'):
            came = StockMove.objects.filter(studio=order.studio_id, about=f'{ORDER}{order.number}')
            came.update(order=order)
        for studio, about in sorted(texts(apps)):
            holder = Holder.objects.create(
                studio_id=studio, about=about, title=title_beside(apps, studio, about)
            )
            for name in ALL:
                rows = apps.get_model('pricing', name).objects.filter(studio=studio, about=about)
                rows.filter(**without_order(name)).update(holder=holder)


def without_order(name):
    return {'order': None} if name == 'StockMove' else {}


def texts(apps):
    """Each studio and text that rows name, those of orders left out."""
    found = set()
    for name in ALL:
        rows = apps.get_model('pricing', name).objects.filter(**without_order(name)).exclude(about='')
        found |= set(rows.order_by().values_list('studio', 'about').distinct())
    return found


def title_beside(apps, studio, about):
    """What it was called last: by what it holds, else by why it took from the shelves, else as it was named."""
    for name in NAMED:
        rows = apps.get_model('pricing', name).objects.filter(studio=studio, about=about)
        if title := rows.order_by('-pk').values_list('title', flat=True).first():
            return title
    moves = apps.get_model('pricing', 'StockMove').objects.filter(studio=studio, about=about, kind='used')
    why = moves.exclude(why='').order_by('-pk').values_list('why', flat=True).first()
    return (why or about)[:160]


def say_it_in_text(apps, schema_editor):
    """The way back."""
    Holder = apps.get_model('pricing', 'Holder')
    with guards_lowered(schema_editor):
        for holder in Holder.objects.all():
            about = holder.about or f'holder:{holder.pk}'
            for name in ALL:
                rows = apps.get_model('pricing', name).objects.filter(holder=holder)
                rows.update(about=about, **({'title': holder.title} if name in NAMED else {}))
        for move in apps.get_model('pricing', 'StockMove').objects.exclude(order=None).select_related('order'):
            type(move).objects.filter(pk=move.pk).update(about=f'{ORDER}{move.order.number}')
        for name in ALL:
            apps.get_model('pricing', name).objects.update(holder=None)
        Holder.objects.all().delete()


class Migration(migrations.Migration):

    dependencies = [
        ('pricing', '0011_holders'),
    ]

    operations = [
        migrations.RunPython(name_holders, say_it_in_text),
    ]
