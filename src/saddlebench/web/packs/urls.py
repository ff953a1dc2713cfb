"""Addresses of handing over."""

from django.urls import path

from saddlebench.web.packs import keys, links, making, sent, taking

urlpatterns = [
    path("packs/", sent.home, name="home"),
    path("packs/key/", keys.key, name="key"),
    path("packs/key/renew/", keys.renew, name="renew"),
    path("packs/keys/add/", keys.add, name="add_key"),
    path("packs/keys/<uuid:uuid>/end/", keys.end, name="end_key"),
    path("packs/new/horse/<uuid:uuid>/", making.of_horse, name="new_of_horse"),
    path("packs/new/saddle/<uuid:uuid>/", making.of_saddle, name="new_of_saddle"),
    path("packs/sent/<uuid:uuid>/", sent.sent, name="sent"),
    path("packs/sent/<uuid:uuid>/file/", sent.file, name="file"),
    path("packs/sent/<uuid:uuid>/link/", sent.link, name="link"),
    path("packs/sent/<uuid:uuid>/delete/", sent.delete, name="delete"),
    path("packs/links/<uuid:uuid>/end/", sent.end, name="end_link"),
    path("packs/look/", taking.bring, name="bring"),
    path("packs/fetch/", taking.fetch, name="fetch"),
    path("packs/look/<uuid:uuid>/", taking.look, name="look"),
    path("packs/taken/<uuid:uuid>/", taking.taken, name="taken"),
    path("packs/taken/<uuid:uuid>/answer/", making.answer, name="answer"),
    # What a link opens: no sign-in, no other page behind it.
    path("handover/<str:token>/", links.landing, name="landing"),
    path("handover/<str:token>/pack/", links.begin, name="begin"),
    path("handover/<str:token>/pack/<str:ticket>/", links.download, name="download"),
]
