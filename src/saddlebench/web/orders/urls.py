"""Addresses of work orders."""

from django.urls import path

from saddlebench.web.orders import doing, pages, writing

urlpatterns = [
    path("orders/", pages.orders, name="orders"),
    path("plans/<uuid:uuid>/order/", writing.new, name="new"),
    path("orders/<uuid:uuid>/", pages.order, name="order"),
    path("orders/<uuid:uuid>/edit/", writing.edit, name="edit"),
    path("orders/<uuid:uuid>/move/", doing.move, name="move"),
    path("orders/<uuid:uuid>/done/", doing.done, name="done"),
    path("orders/<uuid:uuid>/check/", doing.check, name="check"),
    path("orders/<uuid:uuid>/order.pdf", pages.sheet, name="sheet"),
    path("orders/<uuid:uuid>/underside.svg", pages.underside, name="underside"),
]
