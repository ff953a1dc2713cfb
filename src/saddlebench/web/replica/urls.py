"""Addresses of rebuilding a back elsewhere."""

from django.urls import path

from saddlebench.web.replica import files, proving, setting, views

urlpatterns = [
    path("backs/<uuid:uuid>/rebuild/", views.overview, name="overview"),
    path("backs/<uuid:uuid>/rebuild/set/", setting.begin, name="begin"),
    path("backs/<uuid:uuid>/rebuild/prove/", proving.prove, name="prove"),
    path("backs/<uuid:uuid>/rebuild/make/<slug:what>/", files.part, name="part"),
    path(
        "backs/<uuid:uuid>/rebuild/make/<slug:what>/preview/<int:number>.svg",
        files.preview_picture,
        name="preview",
    ),
    path("rebuilds/<uuid:uuid>/", setting.rebuild, name="rebuild"),
    path("rebuilds/<uuid:uuid>/settings.pdf", setting.sheet, name="sheet"),
    path("rebuilds/<uuid:uuid>/settings.json", setting.document, name="document"),
    path("rebuilds/<uuid:uuid>/away/", setting.put_away, name="put_away"),
    path("rebuilds/<uuid:uuid>/part/<slug:key>/", setting.station, name="station"),
    path("rebuild-files/<uuid:uuid>/", files.made, name="made"),
    path("rebuild-files/<uuid:uuid>/all.zip", files.whole, name="whole"),
    path("rebuild-files/<uuid:uuid>/file/<int:number>/", files.one_file, name="one_file"),
    path("rebuild-checks/<uuid:uuid>/", proving.check, name="check"),
    path("rebuild-checks/<uuid:uuid>/sheet.pdf", proving.check_sheet, name="check_sheet"),
]
