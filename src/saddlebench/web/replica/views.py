"""Where a back is rebuilt from: the ways to do it, what is being set, and the rebuilds that were proved."""

import json
import uuid as uuids

from django.http import HttpResponse

from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.replica.choices import PARTS


@signed_in(Action.SEE_HORSES)
def overview(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show the ways to rebuild a back elsewhere."""
    version = whole_of(request.GET.get("version", "")) or None
    source = queries.rebuild_source(request.actor, uuid, version)
    under_way = [
        (row, str(json.loads(row.instrument).get("name", "")))
        for row in queries.rebuilds_of(request.actor, uuid)
    ]
    return show(
        request,
        "replica/overview.html",
        f"Rebuild {source.horse.label}’s back elsewhere",
        source,
        parts=list(PARTS.values()),
        under_way=under_way,
        checks=queries.checks_of(request.actor, uuid),
    )
