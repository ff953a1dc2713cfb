"""Addresses of tracings."""

from django.urls import path

from saddlebench.web.tracing import adding, angles, looking, saddle_pages, saddle_photos, starting

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
    path("saddles/<uuid:uuid>/tracings/new/", saddle_pages.new, name="saddle_new"),
    path("saddles/<uuid:uuid>/tracings/<uuid:key>/", saddle_pages.overview, name="saddle_overview"),
    path("saddles/<uuid:uuid>/tracings/<uuid:key>/more/", saddle_pages.more, name="saddle_more"),
    path("saddles/<uuid:uuid>/tracings/<uuid:key>/record/", saddle_pages.record, name="saddle_record"),
    path("saddles/<uuid:uuid>/tracings/<uuid:key>/picture/", saddle_pages.picture, name="saddle_picture"),
    path(
        "saddles/<uuid:uuid>/tracings/<uuid:key>/photos/<int:number>/",
        saddle_photos.photo,
        name="saddle_photo",
    ),
    path(
        "saddles/<uuid:uuid>/tracings/<uuid:key>/photos/<int:number>/corners/",
        saddle_photos.corners,
        name="saddle_corners",
    ),
    path(
        "saddles/<uuid:uuid>/tracings/<uuid:key>/photos/<int:number>/file/",
        saddle_photos.file,
        name="saddle_file",
    ),
]
