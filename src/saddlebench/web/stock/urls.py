"""Addresses of the stock, and of choices from it."""

from django.urls import path

from saddlebench.web.stock import asking, choices, crossing, items, listing, rules

urlpatterns = [
    path("stock/", listing.stock, name="stock"),
    path("stock/stock.csv", crossing.take_out, name="take_out"),
    path("stock/bring-in/", crossing.bring_in, name="bring_in"),
    path("stock/rules/", rules.rules, name="rules"),
    path("stock/rules/set/", rules.set_rules, name="set_rules"),
    path("stock/rules/default/", rules.default_rules, name="default_rules"),
    path("stock/rules/practice-choosing.toml", rules.rules_file, name="rules_file"),
    path("stock/season/", asking.season, name="season"),
    path("stock/choices/", choices.choices, name="choices"),
    path("stock/<uuid:uuid>/", items.item, name="item"),
    path("stock/<uuid:uuid>/say/", items.say_how, name="say"),
    path("stock/<uuid:uuid>/label.pdf", items.label, name="label"),
    path("saddles/<uuid:uuid>/takers/", asking.takers, name="takers"),
    path("horses/<uuid:uuid>/shortlist/", asking.shortlist, name="shortlist"),
    path("choices/<uuid:uuid>/", choices.choice, name="choice"),
    path("choices/<uuid:uuid>/order.svg", choices.order_picture, name="order_picture"),
]
