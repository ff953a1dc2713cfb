"""Addresses of scans of backs."""

from django.urls import path

from saddlebench.web.scan import looking, marking, starting

urlpatterns = [
    path("scans/new/", starting.new, name="new"),
    path("scans/<uuid:uuid>/", looking.look, name="look"),
    path("scans/<uuid:uuid>/again/", looking.again, name="again"),
    path("scans/<uuid:uuid>/aside/", looking.aside, name="aside"),
    path("scans/<uuid:uuid>/picture/", looking.picture, name="picture"),
    path("scans/<uuid:uuid>/shape/", marking.shape, name="shape"),
    path("scans/<uuid:uuid>/marks/", marking.marks, name="marks"),
    path("scans/<uuid:uuid>/mark/", marking.mark, name="mark"),
    path("scans/<uuid:uuid>/record/", looking.record, name="record"),
]
