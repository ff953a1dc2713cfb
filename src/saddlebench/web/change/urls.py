"""Addresses of what changed, trends, saddles then and now, and hands checked."""

from django.urls import path

from saddlebench.web.change import changes, choosing, fitters, hand, then_and_now, trend

urlpatterns = [
    path("horses/<uuid:uuid>/changed/", choosing.changed, name="changed"),
    path("horses/<uuid:uuid>/changed/compare/", choosing.compare, name="compare"),
    path("horses/<uuid:uuid>/trend/", trend.trend, name="trend"),
    path("horses/<uuid:uuid>/trend/chart.svg", trend.chart, name="trend_chart"),
    path("horses/<uuid:uuid>/trend/numbers/", trend.work_out, name="work_out"),
    path("horses/<uuid:uuid>/trend/diary/", trend.to_diary, name="to_diary"),
    path("horses/<uuid:uuid>/then-and-now/", then_and_now.choose, name="choose_saddles"),
    path("horses/<uuid:uuid>/then-and-now/judge/", then_and_now.judge, name="judge"),
    path("horses/<uuid:uuid>/check-me/", hand.exercise, name="exercise"),
    path("horses/<uuid:uuid>/check-me/result/", hand.work_out, name="check_hand"),
    path("changes/<uuid:uuid>/", changes.change, name="change"),
    path("changes/<uuid:uuid>/report.pdf", changes.report, name="report"),
    path("changes/<uuid:uuid>/<str:name>.svg", changes.change_picture, name="picture"),
    path("then-and-now/<uuid:uuid>/", then_and_now.then_and_now, name="then_and_now"),
    path("check-me/", hand.figures, name="figures"),
    path("check-me/fitters/", fitters.choose, name="choose_fitters"),
    path("check-me/fitters/compare/", fitters.compare, name="compare_fitters"),
    path("check-me/fitters/<uuid:uuid>/", fitters.fitters, name="fitters"),
    path("check-me/fitters/<uuid:uuid>/numbers.svg", fitters.fitters_picture, name="fitters_picture"),
    path("check-me/<uuid:uuid>/", hand.hand, name="hand"),
    path("check-me/<uuid:uuid>/<str:name>.svg", hand.hand_picture, name="hand_picture"),
]
