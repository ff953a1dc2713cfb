"""The stock as a table: taken out, brought in."""

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.exchange.stock import COLUMNS
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.stock import export_stock
from saddlebench.practice.services import import_stock
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

LARGEST_TABLE = 5_000_000


@signed_in(Action.EXPORT)
def take_out(request: PageRequest) -> HttpResponse:
    """Give the stock as CSV."""
    content = export_stock(request.actor).encode("utf-8-sig")
    response = HttpResponse(content, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="stock.csv"'
    return response


@signed_in(Action.IMPORT, FORM)
def bring_in(request: PageRequest) -> HttpResponse:
    """Take a stock table in: all of it, or nothing and every problem by row and field."""
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            content, name = _table_of(request)
            done = import_stock(request.actor, content, name)
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, f"{done.taken_on} taken on, {done.changed} changed, {done.as_before} as before.")
            return HttpResponseRedirect(reverse("stock:stock"))
    columns = [
        (name, one.words, one.meaning, one.required and name != "record") for name, one in COLUMNS.items()
    ]
    return show(
        request,
        "stock/bring_in.html",
        "Bring the stock in",
        None,
        status=422 if problems else 200,
        problems=problems[:50],
        columns=columns,
    )


def _table_of(request: PageRequest) -> tuple[bytes, str]:
    table = request.FILES.get("table")
    if table is None:
        raise input_problem("no file is chosen", "Choose a CSV file.")
    if table.size is None or table.size > LARGEST_TABLE:
        raise input_problem("is larger than 5 MB", "Give it in parts.")
    return table.read(), table.name or "stock.csv"
