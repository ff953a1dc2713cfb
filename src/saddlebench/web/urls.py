"""Addresses: the slices' own, in the order of the one list."""

from django.urls import include, path

from saddlebench.web.base.views import health, job_again, job_progress, job_stop, jobs
from saddlebench.web.slices import SLICES

urlpatterns = [
    path("health/", health, name="health"),
    path("jobs/", jobs, name="jobs"),
    path("jobs/<uuid:uuid>/", job_progress, name="job"),
    path("jobs/<uuid:uuid>/stop/", job_stop, name="job_stop"),
    path("jobs/<uuid:uuid>/again/", job_again, name="job_again"),
    *(path(one.under, include((f"saddlebench.web.{one.name}.urls", one.name))) for one in SLICES),
]
handler400 = "saddlebench.web.base.errors.bad_request"
handler403 = "saddlebench.web.base.errors.forbidden"
handler404 = "saddlebench.web.base.errors.not_found"
handler500 = "saddlebench.web.base.errors.failed"
