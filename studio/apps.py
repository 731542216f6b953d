from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StudioConfig(AppConfig):
    name = "studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio import checks  # noqa: F401  registers itself
        from studio.append_only import raise_guards
        from studio.signals import before_sending
        from studio.upkeep import keep_statistics, keep_statistics_daily

        post_migrate.connect(raise_guards, dispatch_uid="append-only")
        post_migrate.connect(keep_statistics, sender=self, dispatch_uid="statistics")
        before_sending.connect(keep_statistics_daily, dispatch_uid="upkeep")
