"""A shortlist from the practice's own stock: computed from what is recorded, and not recorded itself."""

import uuid as uuids
from dataclasses import replace
from typing import TYPE_CHECKING

from saddlebench.practice.enums import Action
from saddlebench.practice.models import BackVersion
from saddlebench.practice.queries.choosing_rules import own_choosing
from saddlebench.practice.queries.limits import own_limits
from saddlebench.practice.queries.stock import stock_candidates
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.measured_backs import errors_used

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from saddlebench.engine.choose import Place, Pool, RiderSize, Shortlist, ShortlistSettings, Wanted
    from saddlebench.engine.fit.horse import Horse
    from saddlebench.engine.fit.loads import Rider
    from saddlebench.engine.fit.study import Progress


def wanted_on(
    actor: Actor | None,
    back_version: uuids.UUID,
    rider: "Rider",
    *,
    rider_size: "RiderSize | None" = None,
    horse: "Horse | None" = None,
) -> "Wanted":
    """Return a recorded back with its rider as a shortlist takes them; its key is the version's uuid.

    Raises
    ------
    NotFoundError
        If the practice has no such version of a back.
    """
    # the numerical parts are loaded when they are needed, not when pages start
    from saddlebench.engine.choose import RiderSize, Wanted  # noqa: PLC0415
    from saddlebench.engine.fit.horse import Horse  # noqa: PLC0415
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    rows = BackVersion.objects.filter(uuid=back_version, back__practice_id=allowed.practice_id)
    version = rows.select_related("back__made_by").first()
    if version is None:
        raise NotFoundError("version of a back record", back_version)
    record = parse_document(BackDocument, version.document, version.back.label).record()
    back = measured(record, errors_used(allowed, version))
    return Wanted(
        key=str(back_version),
        label=version.back.label,
        surface=back.estimated.surface,
        landmarks=back.record.landmarks,
        rider=rider,
        rider_size=rider_size or RiderSize(),
        horse=horse or Horse(),
        estimated=back.estimated,
        own_errors=back.own_errors,
    )


def shortlist_from_stock(
    actor: Actor | None,
    wanted: "Wanted",
    *,
    only_free: bool = True,
    discipline: str = "",
    settings: "ShortlistSettings | None" = None,
    pool: "Pool | None" = None,
    progress: "Progress | None" = None,
    stop: "Callable[[], bool] | None" = None,
    so_far: "Callable[[Sequence[Place]], None] | None" = None,
) -> "Shortlist":
    """Choose from the measured saddles in stock, by its own limits and weights; entries are named by uuid.

    Parameters
    ----------
    actor : who asks
    wanted : see `wanted_on`
    only_free, discipline : see `stock_candidates`
    settings : without any, twenty saddles; the practice's own limits take the place of its criteria
    pool, progress, stop, so_far : as for `saddlebench.engine.choose.shortlist`
    """
    from saddlebench.engine.choose import HERE, ShortlistSettings, shortlist  # noqa: PLC0415

    own, chosen_by = own_limits(actor), own_choosing(actor)
    asked = settings or ShortlistSettings()
    if own is not None:
        asked = replace(asked, criteria=own.criteria())
    if chosen_by is not None:
        asked = replace(asked, rules=chosen_by.rules, limits=chosen_by.limits)
    return shortlist(
        wanted,
        stock_candidates(actor, only_free=only_free, discipline=discipline),
        asked,
        pool=pool or HERE,
        progress=progress or (lambda _done, _of, _doing: None),
        stop=stop or (lambda: False),
        so_far=so_far or (lambda _best: None),
    )
