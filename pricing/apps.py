from django.apps import AppConfig


class PricingConfig(AppConfig):
    name = "pricing"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from pricing.starter import stock_on_opening
        from studio.signals import studio_opened

        studio_opened.connect(stock_on_opening, dispatch_uid="starter price book")
