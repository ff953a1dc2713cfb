"""Addresses of yard cards."""

from django.urls import path

from saddlebench.web.cards import views

urlpatterns = [
    path("visits/<uuid:uuid>/card/", views.of_visit, name="of_visit"),
    path("visits/<uuid:uuid>/card.pdf", views.visit_pdf, name="visit_pdf"),
    path("diary/cards/", views.of_day, name="of_day"),
    path("diary/cards.pdf", views.day_pdf, name="day_pdf"),
]
