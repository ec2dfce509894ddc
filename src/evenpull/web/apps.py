"""The Django app of the pages."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "evenpull.web"
    label = "web"
