"""In which lengths the bench is shown: chosen once, it stays so for whoever is signed in here."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.http import HttpResponse

from saddlebench.engine.units import Length
from saddlebench.exchange.readers import Reader, read_by
from saddlebench.web.base.access import PageRequest

_KEPT = "bench-lengths"
_LENGTHS = {"mm": Length.MM, "in": Length.INCH}
_Given = ParamSpec("_Given")


def in_chosen_lengths(
    view: Callable[Concatenate[PageRequest, _Given], HttpResponse],
) -> Callable[Concatenate[PageRequest, _Given], HttpResponse]:
    """Declare a view that is shown in the lengths that its address or an earlier one chose."""

    @wraps(view)
    def shown(request: PageRequest, /, *args: _Given.args, **kwargs: _Given.kwargs) -> HttpResponse:
        given = request.GET.get("lengths", "")
        if given in _LENGTHS:
            request.session[_KEPT] = given
        length = _LENGTHS.get(str(request.session.get(_KEPT, "mm")), Length.MM)
        with read_by(Reader(length=length)):
            return view(request, *args, **kwargs)

    return shown
