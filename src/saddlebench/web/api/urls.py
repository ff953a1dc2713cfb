"""Addresses of the program interface."""

from django.urls import include, path, re_path

from saddlebench.web.api import views
from saddlebench.web.api.interface import PREFIX, addresses

urlpatterns = [
    path("api/", views.listing, name="listing"),
    path(f"{PREFIX}openapi.json", views.openapi, name="openapi"),
    path(PREFIX, include((addresses(), "interface"))),
    re_path(r"^api/.*", views.elsewhere, name="elsewhere"),
]
