"""Addresses of scanned undersides."""

from django.urls import path

from saddlebench.web.underside import views

urlpatterns = [
    path("saddles/<uuid:uuid>/scan/", views.new, name="new"),
    path("undersides/<uuid:uuid>/<uuid:key>/", views.found, name="found"),
    path("undersides/<uuid:uuid>/<uuid:key>/picture/", views.picture, name="picture"),
]
