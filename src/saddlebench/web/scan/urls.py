"""Addresses of scans of backs."""

from django.urls import path

from saddlebench.web.scan import looking, starting

urlpatterns = [
    path("scans/new/", starting.new, name="new"),
    path("scans/<uuid:uuid>/", looking.look, name="look"),
    path("scans/<uuid:uuid>/picture/", looking.picture, name="picture"),
    path("scans/<uuid:uuid>/mark/", looking.mark, name="mark"),
    path("scans/<uuid:uuid>/record/", looking.record, name="record"),
]
