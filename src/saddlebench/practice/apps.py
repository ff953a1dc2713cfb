"""The application as Django knows it."""

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Tables of the practice."""

    name = "saddlebench.practice"
    label = "practice"
    verbose_name = "Practice"
