"""Health, and the pages of long work."""

import uuid as uuids

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench import __version__
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import job_page, jobs_page
from saddlebench.practice.services.jobs import ask_job_again, stop_job
from saddlebench.web.base.access import DEED, PageRequest, open_to_all, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import spoken, told, wholly_spoken

GOES_ON = "goes-on"
"""What on the page of finished work asks where to go."""


@open_to_all()
def health(_request: HttpRequest) -> HttpResponse:
    """Say whether program and records answer."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            works = cursor.fetchone() == (1,)
    except DatabaseError:
        works = False
    answer = {"saddlebench": __version__, "records": "answer" if works else "do not answer"}
    return JsonResponse(answer, status=200 if works else 503)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def jobs(request: PageRequest) -> HttpResponse:
    """List the practice's latest long work."""
    return show(request, "base/jobs.html", gettext("Long work"), jobs_page(request.actor))


@signed_in(Action.SEE_HORSES)
@spoken
def job_progress(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far long work is; the page asks again by itself until it is over."""
    job = job_page(request.actor, uuid)
    response = show(request, "base/job.html", told(job.words), job)
    if job.goes_on and not request.htmx:
        return HttpResponseRedirect(job.leads_to)
    # Asked for once, by what the last answer holds. Sent with every answer it would begin a slow page anew
    # each time, and one would never arrive.
    if job.goes_on and request.htmx.trigger == GOES_ON:
        response["HX-Redirect"] = job.leads_to
    return response


@signed_in(Action.SEE_HORSES, DEED)
def job_stop(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Stop long work; who could not have asked for it is refused."""
    stop_job(request.actor, uuid)
    return HttpResponseRedirect(reverse("job", args=[uuid]))


@signed_in(Action.SEE_HORSES, DEED)
def job_again(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Ask again for long work that was interrupted, stopped or failed."""
    ask_job_again(request.actor, uuid)
    return HttpResponseRedirect(reverse("job", args=[uuid]))
