"""Every address of rebuilding × every role × own and other practice; and queries that stay few."""

import uuid as uuids
from collections.abc import Callable
from typing import Any

import pytest
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver
from replica_cast import back_of, check_of, rebuild_of
from web_cast import ROLES, Cast, do_waiting

from saddlebench.practice.rules import may
from saddlebench.web.base.access import Access, access_of


def addresses() -> dict[str, Any]:
    (ours,) = [one for one in get_resolver().url_patterns if getattr(one, "namespace", "") == "replica"]
    return {one.name: one for one in ours.url_patterns}


NAMES = sorted(addresses())


def paths_of(cast: Cast) -> dict[str, str]:
    """Return every address with a record of this practice in it."""
    back = back_of(cast)
    rebuild, check, made = rebuild_of(cast, back), check_of(cast, back), uuids.uuid4()
    begun = f"/backs/{back}/rebuild/"
    form = {"make": "yes", "form": str(made), "board": "4"}
    assert cast.browser("fitter").post(f"{begun}make/ribs/", form).status_code == 302
    do_waiting()
    return {
        "overview": begun,
        "begin": f"{begun}set/",
        "prove": f"{begun}prove/",
        "part": f"{begun}make/ribs/",
        "preview": f"{begun}make/ribs/preview/0.svg",
        "rebuild": rebuild,
        "sheet": f"{rebuild}settings.pdf",
        "document": f"{rebuild}settings.json",
        "put_away": f"{rebuild}away/",
        "station": f"{rebuild}part/s1/",
        "made": f"/rebuild-files/{made}/",
        "whole": f"/rebuild-files/{made}/all.zip",
        "one_file": f"/rebuild-files/{made}/file/0/",
        "check": check,
        "check_sheet": f"{check}sheet.pdf",
    }


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_nobody_gets_what_is_not_theirs(own_cast: Cast, method: str) -> None:
    paths = paths_of(own_cast)
    assert set(paths) == set(NAMES)
    # Putting away last: nobody finds it afterwards.
    for name in sorted(NAMES, key=lambda one: one == "put_away"):
        declared = access_of(addresses()[name].callback)
        assert isinstance(declared, Access)
        assert declared.action is not None
        for who in ("nobody", "other", *sorted(ROLES, key=lambda one: one == "owner")):
            answer = own_cast.browser(who).generic(method, paths[name])
            code, said = answer.status_code, f"{method} {name} as {who}: {answer.status_code}"
            answer.close()
            if method not in declared.methods:
                assert code == 405, said
            elif who == "nobody":
                assert code == (302 if method == "GET" else 401), said
            elif who == "other":
                assert code == 404, said
            elif not may(own_cast.actors[who], declared.action, own_cast.actors[who].practice_id):
                assert code == 403, said
            elif name == "put_away":
                assert code in {302, 404}, said
            else:
                assert code in {200, 302, 404, 422}, said
                assert method == "POST" or code == 200, said


@pytest.mark.parametrize(
    "path", ["rebuild/make/nonsense/", "rebuild/make/kit/preview/0.svg", "rebuild/?version=9"]
)
def test_what_is_not_there_is_not_found(cast: Cast, path: str) -> None:
    assert cast.browser("fitter").get(f"/backs/{back_of(cast)}/{path}").status_code == 404


def test_the_page_asks_as_often_whether_there_is_one_rebuild_or_many(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    back = back_of(cast)
    fitter = cast.browser("fitter")

    def asked() -> int:
        with count_queries() as counted:
            assert fitter.get(f"/backs/{back}/rebuild/").status_code == 200
        return len(counted)

    rebuild_of(cast, back)
    check_of(cast, back)
    asked()
    few = asked()
    for _ in range(3):
        rebuild_of(cast, back)
        check_of(cast, back)
    assert asked() == few <= 15
