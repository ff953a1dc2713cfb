"""Addresses of the records."""

from django.urls import path

from saddlebench.web.records import crossing, editing, history, lists, pages, taking_on, taking_out

urlpatterns = [
    path("horses/", lists.horses, name="horses"),
    path("horses/new/", taking_on.new_horse, name="new_horse"),
    path("horses/<uuid:uuid>/", pages.horse, name="horse"),
    path("horses/<uuid:uuid>/edit/", editing.edit_horse, name="edit_horse"),
    path("horses/<uuid:uuid>/timeline/", history.timeline, name="timeline"),
    path("people/", lists.clients, name="clients"),
    path("people/new/", taking_on.new_client, name="new_client"),
    path("people/<uuid:uuid>/", pages.client, name="client"),
    path("people/<uuid:uuid>/edit/", editing.edit_client, name="edit_client"),
    path("people/<uuid:uuid>/erase/", taking_out.erase, name="erase"),
    path("yards/", lists.yards, name="yards"),
    path("yards/new/", taking_on.new_yard, name="new_yard"),
    path("yards/<uuid:uuid>/", pages.yard, name="yard"),
    path("yards/<uuid:uuid>/edit/", editing.edit_yard, name="edit_yard"),
    path("saddles/", lists.saddles, name="saddles"),
    path("saddles/new/", taking_on.new_saddle, name="new_saddle"),
    path("saddles/<uuid:uuid>/", pages.saddle, name="saddle"),
    path("saddles/<uuid:uuid>/edit/", editing.edit_saddle, name="edit_saddle"),
    path("saddles/<uuid:uuid>/to-stock/", pages.to_stock, name="to_stock"),
    path("saddles/<uuid:uuid>/used-on/", pages.used_on, name="used_on"),
    path("choose/<str:what>/", lists.choose, name="choose"),
    path("records/<str:subject>/<uuid:uuid>/field/", editing.enter_field, name="enter_field"),
    path("records/<str:subject>/<uuid:uuid>/entries/", history.entries, name="entries"),
    path("records/<str:subject>/<uuid:uuid>/versions/", history.versions, name="versions"),
    path("records/<str:subject>/<uuid:uuid>/withdraw/", taking_out.withdraw, name="withdraw"),
    path("records/<str:subject>/<uuid:uuid>/put-back/", taking_out.put_back, name="put_back"),
    path("withdrawn/", taking_out.withdrawn, name="withdrawn"),
    path("erasures/", taking_out.erasures, name="erasures"),
    path("crossing/", crossing.crossing, name="crossing"),
    path("crossing/people.csv", crossing.people_table, name="people_table"),
    path("crossing/horses.csv", crossing.horses_table, name="horses_table"),
    path("crossing/people.vcf", crossing.people_cards, name="people_cards"),
    path("crossing/import/", crossing.take_in, name="take_in"),
]
