"""Addresses of the phone's own pages; the service worker stands at the root, for all pages."""

from django.urls import path

from saddlebench.web.phone import carrying, pieces, reading_in, shell, syncing, trust

urlpatterns = [
    path("service-worker.js", shell.worker, name="worker"),
    path("phone.webmanifest", shell.manifest, name="manifest"),
    path("phone/", shell.app, name="app"),
    path("phone/carried.json", carrying.carried, name="carried"),
    path("phone/sync/", syncing.sync, name="sync"),
    path("phone/photos/<uuid:uuid>/", pieces.state, name="photo"),
    path("phone/photos/<uuid:uuid>/piece/", pieces.piece, name="piece"),
    path("phone/photos/<uuid:uuid>/whole/", pieces.whole, name="whole"),
    path("trust/", trust.trust, name="trust"),
    path("trust/saddlebench-trust.crt", trust.certificate, name="trust_file"),
    path("phone/read-in/", reading_in.read_in, name="read_in"),
]
