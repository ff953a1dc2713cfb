"""Addresses of tracings."""

from django.urls import path

from saddlebench.web.tracing import adding, angles, looking, starting

urlpatterns = [
    path("tracings/new/", starting.new, name="new"),
    path("tracings/sheets/<slug:kind>/<slug:paper>/", starting.sheet, name="sheet"),
    path("tracings/<uuid:uuid>/", looking.overview, name="overview"),
    path("tracings/<uuid:uuid>/keep/", looking.keep_all, name="keep_all"),
    path("tracings/<uuid:uuid>/more/", adding.more, name="more"),
    path("tracings/<uuid:uuid>/photos/<int:number>/corners/", adding.corners, name="corners"),
    path("tracings/angles/<uuid:uuid>/", angles.angles, name="angles"),
    path("tracings/<uuid:uuid>/photos/<int:number>/", looking.photo, name="photo"),
    path("tracings/<uuid:uuid>/photos/<int:number>/file/", looking.file, name="file"),
]
