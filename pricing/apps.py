from django.apps import AppConfig


class PricingConfig(AppConfig):
    name = "pricing"
    default_auto_field = "django.db.models.BigAutoField"
