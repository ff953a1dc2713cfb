"""Addresses of alteration plans."""

from django.urls import path

from saddlebench.web.alter import asking, pages, trying

urlpatterns = [
    path("checks/<uuid:uuid>/what-to-do/", asking.what_to_do, name="what_to_do"),
    path("checks/<uuid:uuid>/try/", trying.by_hand, name="by_hand"),
    path("checks/<uuid:uuid>/try/save/", trying.save, name="save"),
    path("checks/<uuid:uuid>/runs/<int:number>/tried/<str:name>.svg", trying.picture, name="tried_picture"),
    path("plans/<uuid:uuid>/", pages.plan, name="plan"),
    path("plans/<uuid:uuid>/<str:name>.svg", pages.picture, name="picture"),
]
