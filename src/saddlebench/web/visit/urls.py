"""Addresses of visits."""

from django.urls import path

from saddlebench.web.visit import ending, marks, saddles, starting, steps

urlpatterns = [
    path("visits/", starting.visits, name="visits"),
    path("visits/new/", starting.new, name="new"),
    path("visits/<uuid:uuid>/", starting.visit, name="visit"),
    path("visits/<uuid:uuid>/horse/", starting.say_horse, name="say_horse"),
    path("visits/<uuid:uuid>/save/", steps.save, name="save"),
    path("visits/<uuid:uuid>/marks/<str:name>/add/", marks.add_mark, name="add_mark"),
    path("visits/<uuid:uuid>/marks/<str:name>/take-off/", marks.take_mark_off, name="take_mark_off"),
    path("visits/<uuid:uuid>/saddles/add/", saddles.add, name="add_saddle"),
    path("visits/<uuid:uuid>/saddles/<uuid:tried>/take-off/", saddles.take_off, name="take_saddle_off"),
    path("visits/<uuid:uuid>/saddles/<uuid:saddle>/put-back/", saddles.put_back, name="put_saddle_back"),
    path("visits/<uuid:uuid>/saddles/<uuid:tried>/save/", saddles.save, name="save_saddle"),
    path("visits/<uuid:uuid>/saddles/<uuid:tried>/<str:part>/", saddles.saddle, name="saddle"),
    path("visits/<uuid:uuid>/advice/", ending.advise, name="advise"),
    path("visits/<uuid:uuid>/recheck/", ending.recheck, name="recheck"),
    path("visits/<uuid:uuid>/finish/", ending.finish, name="finish"),
    path("visits/<uuid:uuid>/summary/", ending.summary, name="summary"),
    path("visits/<uuid:uuid>/step/<str:name>/", steps.step, name="step"),
]
