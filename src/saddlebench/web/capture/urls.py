"""Addresses of measuring."""

from django.urls import path

from saddlebench.web.capture import (
    backs,
    finishing,
    from_card,
    instruments,
    measuring,
    repeating,
    saddles,
    saving,
)

urlpatterns = [
    path("measure/", measuring.home, name="home"),
    path("measure/new/", measuring.start, name="start"),
    path("measure/<uuid:uuid>/", measuring.overview, name="overview"),
    path("measure/<uuid:uuid>/part/<slug:key>/", measuring.part, name="part"),
    path("measure/<uuid:uuid>/part/<slug:key>/readings/", saving.readings, name="readings"),
    path("measure/<uuid:uuid>/part/<slug:key>/moved/", saving.moved, name="moved"),
    path("measure/<uuid:uuid>/again/", saving.again, name="again"),
    path("measure/<uuid:uuid>/repeat/", repeating.repeat, name="repeat"),
    path("measure/<uuid:uuid>/section/", saving.add_section, name="add_section"),
    path("measure/<uuid:uuid>/card/", from_card.from_card, name="from_card"),
    path("measure/<uuid:uuid>/table/", finishing.table, name="table"),
    path("measure/<uuid:uuid>/finish/", finishing.finish, name="finish"),
    path("measure/<uuid:uuid>/take-up/", finishing.take_up, name="take_up"),
    path("backs/<uuid:uuid>/", backs.back, name="back"),
    path("instruments/", instruments.instruments, name="instruments"),
    path("instruments/new/", instruments.new_instrument, name="new_instrument"),
    path("instruments/picture/", instruments.instrument_picture, name="instrument_picture"),
    path("instruments/shipped/<slug:name>/", instruments.shipped, name="shipped"),
    path("instruments/<uuid:uuid>/", instruments.instrument, name="instrument"),
    path("saddles/<uuid:uuid>/measure/", saddles.measure, name="measure_saddle"),
    path("saddles/<uuid:uuid>/measure/leave/", saddles.leave_draft, name="leave_saddle_draft"),
    path("saddles/<uuid:uuid>/measure/picture/", saddles.preview, name="saddle_preview"),
    path("saddles/<uuid:uuid>/measured/", saddles.measured_saddle, name="measured_saddle"),
]
