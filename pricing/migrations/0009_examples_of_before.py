from decimal import Decimal

from django.db import migrations

# As studios that were opened before got them. Whoever changed a figure made it their own.
FIGURES = {
    "balloon/5 in": ("100", "7.50"), "balloon/9 in": ("100", "10.00"), "balloon/11 in": ("100", "13.00"),
    "balloon/16 in": ("50", "17.50"), "balloon/18 in": ("25", "14.00"), "balloon/24 in": ("10", "13.00"),
    "balloon/36 in": ("5", "14.00"), "tie/260": ("100", "8.00"), "greenery/mixed leaf": ("6", "21.00"),
    "greenery/eucalyptus": ("6", "24.00"), "greenery/ivy": ("12", "30.00"), "ribbon/10 mm": ("25", "4.50"),
    "ribbon/25 mm": ("25", "7.00"), "fastener/cable tie": ("100", "3.50"), "tape/low profile": ("25", "6.00"),
    "fastener/adhesive dot": ("100", "4.00"), "fastener/hook": ("10", "9.00"), "line/fishing": ("100", "5.00"),
    "stem/mixed leaf": ("10", "8.00"), "stem/eucalyptus": ("10", "11.00"), "ribbon/5 mm": ("225", "3.00"),
    "gas/helium": ("9", "260.00"), "weight/floater": ("10", "6.00"), "stick/floater": ("50", "6.00"),
    "frame/ring": ("1", "18.00"), "frame/arch": ("1", "22.00"), "frame/rail": ("1", "9.00"),
    "frame/panel": ("1", "24.00"), "frame/column": ("1", "8.00"), "frame/bent rod": ("1", "8.00"),
    "weight/ballast": ("1", "2.00"),
}
RATES = {
    "workshop_hour": "16", "site_hour": "19", "travel_km": "0.45", "overhead_percent": "12",
    "margin_percent": "45", "minimum_charge": "120",
}
MADE_UP = ("Example wholesale (demo)", "Example corner depot (demo)")
DEMO = "maren@quillmoor.example"  # the invented studio keeps what was invented for it


def mark_examples(apps, schema_editor):
    """A studio's only entry of a thing that still says what we wrote there is an example."""
    Studio = apps.get_model("studio", "Studio")
    Price = apps.get_model("pricing", "Price")
    RateCard = apps.get_model("pricing", "RateCard")
    for studio in Studio.objects.exclude(mail=DEMO):
        prices = list(Price.objects.filter(studio=studio).select_related("supply"))
        entries = {}
        for price in prices:
            entries.setdefault(price.supply_id, []).append(price)
        ours = [
            some[0].pk for some in entries.values()
            if len(some) == 1 and some[0].supply.key in FIGURES
            and (some[0].pack_count, some[0].pack_price) == tuple(map(Decimal, FIGURES[some[0].supply.key]))
        ]
        Price.objects.filter(pk__in=ours).update(is_example=True)
        if RateCard.objects.filter(studio=studio).count() == 1:
            RateCard.objects.filter(studio=studio, **RATES).update(is_example=True)


def drop_made_up_suppliers(apps, schema_editor):
    """Where nobody changed them or ordered from them."""
    Studio = apps.get_model("studio", "Studio")
    Supplier = apps.get_model("pricing", "Supplier")
    Pack = apps.get_model("pricing", "Pack")
    PurchaseOrder = apps.get_model("pricing", "PurchaseOrder")
    for studio in Studio.objects.exclude(mail=DEMO):
        for supplier in Supplier.objects.filter(studio=studio, name__in=MADE_UP, version=1):
            if PurchaseOrder.objects.filter(supplier=supplier).exists():
                continue
            Pack.objects.filter(supplier=supplier, version=1).delete()
            if not Pack.objects.filter(supplier=supplier).exists():
                supplier.delete()


class Migration(migrations.Migration):

    dependencies = [
        ("pricing", "0008_example_figures"),
        ("studio", "0005_money_and_yes"),
    ]

    # Backwards there is nothing to do: the marks go with their column, and made-up suppliers are not made up again.
    operations = [
        migrations.RunPython(mark_examples, migrations.RunPython.noop),
        migrations.RunPython(drop_made_up_suppliers, migrations.RunPython.noop),
    ]
