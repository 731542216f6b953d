from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class PricingConfig(AppConfig):
    name = "pricing"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from pricing.book.starter import offer_figures, stock_on_opening
        from pricing.stores.kit_guard import stand_guard
        from studio.signals import currency_changes, figures_wanted, studio_opened

        studio_opened.connect(stock_on_opening, dispatch_uid="starter price book")
        figures_wanted.connect(offer_figures, dispatch_uid="figures to begin with")
        currency_changes.connect(amounts_of_orders, dispatch_uid="orders")
        post_migrate.connect(stand_guard, dispatch_uid="kit never twice")


def amounts_of_orders(*, studio: Any, **_: Any) -> str:
    """Orders that are in the studio's currency."""
    from pricing.models import PurchaseOrder
    from studio.access import system_access

    return "orders" if system_access(studio).rows(PurchaseOrder).exists() else ""
