from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StudioConfig(AppConfig):
    name = "studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio import checks  # noqa: F401  registers itself
        from studio.append_only import raise_guards

        post_migrate.connect(raise_guards, dispatch_uid="append-only")
