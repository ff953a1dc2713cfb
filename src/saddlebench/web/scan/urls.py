"""Addresses of scans of backs."""

from django.urls import path

from saddlebench.web.scan import laying, looking, marking, starting

urlpatterns = [
    path("scans/new/", starting.new, name="new"),
    path("scans/<uuid:uuid>/", looking.look, name="look"),
    path("scans/<uuid:uuid>/again/", looking.again, name="again"),
    path("scans/<uuid:uuid>/aside/", looking.aside, name="aside"),
    path("scans/<uuid:uuid>/picture/", looking.picture, name="picture"),
    path("scans/<uuid:uuid>/shape/", marking.shape, name="shape"),
    path("scans/<uuid:uuid>/marks/", marking.marks, name="marks"),
    path("scans/<uuid:uuid>/mark/", marking.mark, name="mark"),
    path("scans/<uuid:uuid>/pieces/", laying.pieces, name="pieces"),
    path("scans/<uuid:uuid>/pieces/prepare/", laying.prepare, name="prepare"),
    path("scans/<uuid:uuid>/pieces/<int:number>/", laying.piece, name="piece"),
    path("scans/<uuid:uuid>/record/", looking.record, name="record"),
]
