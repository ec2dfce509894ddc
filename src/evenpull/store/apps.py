"""The Django app that holds the facts."""

from django.apps import AppConfig


class StoreConfig(AppConfig):
    name = "evenpull.store"
    label = "store"
    default_auto_field = "django.db.models.BigAutoField"
