"""Addresses of the day and the diary."""

from django.urls import path

from saddlebench.web.home import feed, views

urlpatterns = [
    path("", views.today, name="today"),
    path("diary/", views.diary, name="diary"),
    path("diary/diary.ics", feed.calendar_file, name="calendar_file"),
    path("diary/feed/<str:token>/diary.ics", feed.calendar_feed, name="calendar_feed"),
]
