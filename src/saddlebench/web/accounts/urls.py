"""Addresses of accounts."""

from django.urls import path

from saddlebench.web.accounts import letterhead, members, tokens, views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-in/here/", views.sign_in_here, name="sign_in_here"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("first-start/", views.first_start, name="first_start"),
    path("account/", views.mine, name="mine"),
    path("account/work-for/", views.work_for, name="work_for"),
    path("account/words/", views.words, name="words"),
    path("account/tokens/", tokens.tokens, name="tokens"),
    path("account/tokens/<uuid:uuid>/withdraw/", tokens.withdraw, name="token_end"),
    path("practice/", members.practice, name="practice"),
    path("practice/letterhead/", letterhead.letterhead, name="letterhead"),
    path("practice/letterhead/logo.png", letterhead.logo, name="logo"),
    path("practice/members/", members.members, name="members"),
    path("practice/members/<uuid:uuid>/role/", members.role, name="member_role"),
    path("practice/members/<uuid:uuid>/password/", members.password, name="member_password"),
    path("practice/members/<uuid:uuid>/end/", members.end, name="member_end"),
]
