"""Showing a page: a template, its title, and one frozen page from the queries."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def show(
    request: HttpRequest,
    template: str,
    title: str,
    page: object = None,
    *,
    status: int = 200,
    **more: object,
) -> HttpResponse:
    """Render a page. Templates read `page` (what the query returned), `title`, and what `more` names."""
    return render(request, template, {"title": title, "page": page, **more}, status=status)
