"""Health, and the progress of a job."""

import uuid as uuids

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse

from saddlebench import __version__
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import PageRequest, open_to_all, signed_in
from saddlebench.web.base.jobs import JobState, worker
from saddlebench.web.base.render import show


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
def job_progress(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far a job is; the page asks again by itself until it is done."""
    job = worker.look(request.actor, uuid)
    response = show(request, "base/job.html", job.words if job else "Interrupted", job)
    if job and job.state is JobState.DONE and job.leads_to:
        if request.htmx:
            response["HX-Redirect"] = job.leads_to
        else:
            response["Refresh"] = f"0; url={job.leads_to}"
    elif job and job.state is not JobState.FAILED and not request.htmx:
        response["Refresh"] = "2"
    return response
