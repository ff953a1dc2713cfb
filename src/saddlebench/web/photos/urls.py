"""Addresses of photos and films."""

from django.urls import path

from saddlebench.web.photos import adding, drawing, showing

urlpatterns = [
    path("visits/<uuid:uuid>/photos/add/", adding.add, name="add"),
    path("horses/<uuid:uuid>/photos/", showing.of_horse, name="of_horse"),
    path("horses/<uuid:uuid>/photos/add/", adding.add_to_horse, name="add_to_horse"),
    path("horses/<uuid:uuid>/photos/compare/", showing.compare_horse, name="compare_horse"),
    path("saddles/<uuid:uuid>/photos/", showing.of_saddle, name="of_saddle"),
    path("saddles/<uuid:uuid>/photos/add/", adding.add_to_saddle, name="add_to_saddle"),
    path("saddles/<uuid:uuid>/photos/compare/", showing.compare_saddle, name="compare_saddle"),
    path("photos/shots/", drawing.shots, name="shots"),
    path("photos/<uuid:uuid>/", showing.one, name="photo"),
    path("photos/<uuid:uuid>/file/", showing.file, name="file"),
    path("photos/<uuid:uuid>/small/", showing.thumb, name="thumb"),
    path("photos/<uuid:uuid>/keep-anyway/", adding.keep_anyway, name="keep_anyway"),
    path("photos/<uuid:uuid>/draw/", drawing.draw, name="draw"),
    path("photos/<uuid:uuid>/rub-off/", drawing.rub_off, name="rub_off"),
    path("photos/<uuid:uuid>/describe/", drawing.describe, name="describe"),
]
