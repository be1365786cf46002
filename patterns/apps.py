from django.apps import AppConfig


class PatternsConfig(AppConfig):
    name = "patterns"
    default_auto_field = "django.db.models.BigAutoField"
