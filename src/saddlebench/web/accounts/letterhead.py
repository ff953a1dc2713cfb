"""The practice's letterhead: seen, set, and its logo."""

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.letterhead import MOST_BYTES, MOST_LINE, MOST_LINES
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.letterhead import letterhead_of
from saddlebench.practice.services.letterhead import set_letterhead
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say


@signed_in(Action.MANAGE_PRACTICE, FORM)
def letterhead(request: PageRequest) -> HttpResponse:
    """Show or set what stands above the practice's reports."""
    now = letterhead_of(request.actor)
    text = "\n".join(now.lines)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        text = request.POST.get("lines", "")
        sent = request.FILES.get("logo")
        logo = sent.read(MOST_BYTES + 1) if sent is not None else b""
        try:
            set_letterhead(request.actor, text, logo=logo, without_logo="without_logo" in request.POST)
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, "The letterhead is kept.")
            return HttpResponseRedirect(reverse("accounts:letterhead"))
    more = {"text": text, "problems": problems, "has_logo": bool(now.logo), "name": now.name}
    limits = {"most_lines": MOST_LINES, "most_line": MOST_LINE}
    status = 422 if problems else 200
    return show(request, "accounts/letterhead.html", "Letterhead", status=status, **more, **limits)


@signed_in(Action.SEE_HORSES)
def logo(request: PageRequest) -> HttpResponse:
    """Send the practice's logo."""
    held = letterhead_of(request.actor).logo
    if not held:
        raise Http404
    return HttpResponse(held, content_type="image/png", headers={"Cache-Control": "private, no-cache"})
