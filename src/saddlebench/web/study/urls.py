"""Addresses of fit checks."""

from django.urls import path

from saddlebench.web.study import limits, reports, running, trying, views

urlpatterns = [
    path("horses/<uuid:uuid>/check/", running.new, name="new"),
    path("checks/<uuid:uuid>/first-look.svg", running.first_look, name="first_look"),
    path("checks/limits/", limits.limits, name="limits"),
    path("checks/limits/practice-limits.toml", limits.limits_file, name="limits_file"),
    path("checks/limits/<slug:slug>/", limits.limit, name="limit"),
    path("checks/limits/<slug:slug>/default/", limits.default_limit, name="default_limit"),
    path("checks/agreement/", views.agreement, name="agreement"),
    path("checks/<uuid:uuid>/", views.study, name="study"),
    path("checks/<uuid:uuid>/beside/", views.side_by_side, name="beside"),
    path("checks/<uuid:uuid>/on-current/", running.on_current, name="on_current"),
    path("checks/<uuid:uuid>/change/", trying.change, name="change"),
    path("checks/<uuid:uuid>/runs/<int:number>/again/", running.again, name="again"),
    path("checks/<uuid:uuid>/runs/<int:number>/report.pdf", reports.report, name="report"),
    path("checks/<uuid:uuid>/runs/<int:number>/shape.bin", views.shape, name="shape"),
    path("checks/<uuid:uuid>/runs/<int:number>/<str:name>.svg", views.study_picture, name="picture"),
    path(
        "checks/<uuid:uuid>/runs/<int:number>/changed/<str:name>.svg",
        trying.change_picture,
        name="change_picture",
    ),
]
