"""The page on which a file of unsent entries is read in."""

from django.http import HttpResponse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.phone.journal import LARGEST_BYTES, read_journal


@signed_in(Action.ENTER_VISIT, FORM)
@spoken
def read_in(request: PageRequest) -> HttpResponse:
    """Show the form; read a file in, and say what became of everything in it."""
    if request.method != "POST":
        return _page(request)
    file = request.FILES.get("file")
    if file is None or file.size is None or file.size > LARGEST_BYTES:
        what = "No file came" if file is None else f"The file is larger than {LARGEST_BYTES >> 20} MB"
        return _page(request, (Problem(what=what, cure="Choose the file that the phone saved."),), status=422)
    try:
        result = read_journal(request.standing, bytes(file.read()))
    except InputProblemsError as error:
        return _page(request, error.problems, status=422)
    result.problems = [problem_told(one) for one in result.problems]
    return show(request, "phone/read_in.html", _("Read in"), result=result)


def _page(request: PageRequest, problems: tuple[Problem, ...] = (), status: int = 200) -> HttpResponse:
    told = tuple(problem_told(one) for one in problems)
    return show(request, "phone/read_in.html", _("Read in"), problems=told, status=status)
