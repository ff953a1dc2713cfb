"""Whether a pack holds together: every record leads to records that are in it, and is in it once."""

from collections.abc import Iterator

from saddlebench.engine.errors import Problem
from saddlebench.exchange.packs.document import FilmPart, PackDocument, PhotoPart, VisitPart

_CURE = "Ask the sender to make the pack again."


def links_of(document: PackDocument) -> list[Problem]:
    """Return a problem for each record that leads to one which is not in the pack, or is named twice."""
    loose = (*_loose_records(document), *_loose_work(document), *_loose_findings(document))
    loose = (*loose, *_loose_sights(document), *_twice(document))
    return [Problem(what=f"the pack does not hold together at: {one[:120]}", cure=_CURE) for one in loose]


def _loose_records(document: PackDocument) -> Iterator[str]:
    horses, saddles = {one.uuid for one in document.horses}, {one.uuid for one in document.saddles}
    backs = {(one.uuid, one.version.sha256) for one in document.backs}
    records = {(one.saddle, one.version.sha256) for one in document.saddle_records}
    yield from (f"back record “{one.label}”" for one in document.backs if one.horse not in horses)
    yield from (f"saddle record {one.saddle}" for one in document.saddle_records if one.saddle not in saddles)
    yield from (
        f"fit check “{one.label}”"
        for one in document.studies
        if (one.back, one.back_sha256) not in backs or (one.saddle, one.saddle_sha256) not in records
    )


def _loose_work(document: PackDocument) -> Iterator[str]:
    saddles = {one.uuid for one in document.saddles}
    runs, plans = (
        {(one.uuid, one.version.sha256) for one in document.studies},
        {o.uuid for o in document.plans},
    )
    yield from (f"plan “{one.label}”" for one in document.plans if (one.study, one.study_sha256) not in runs)
    yield from (f"work order “{one.label}”" for one in document.orders if one.plan not in plans)
    yield from (
        f"work on {one.on}"
        for one in document.work_done
        if one.saddle is not None and one.saddle not in saddles
    )


def _loose_findings(document: PackDocument) -> Iterator[str]:
    """Yield change studies and shortlists whose horse, or whose backs, are not in the pack."""
    horses = {one.uuid for one in document.horses}
    backs = {(one.uuid, one.version.sha256): one.horse for one in document.backs}
    for change in document.changes:
        of = {backs.get((one.back, one.sha256)) for one in change.backs}
        if change.horse not in horses or of != {change.horse}:
            yield f"change study “{change.label}”"
    yield from (f"shortlist “{one.label}”" for one in document.shortlists if one.horse not in horses)


def _loose_sights(document: PackDocument) -> Iterator[str]:
    horses, saddles = {one.uuid for one in document.horses}, {one.uuid for one in document.saddles}
    for visit in document.visits:
        if visit.horse not in horses or not _tried(visit) <= saddles:
            yield f"visit of {visit.day}"
    for one in document.sights():
        of = {named for named in (one.horse, one.saddle) if named is not None}
        if not of or not of <= horses | saddles:
            yield f"{_sight(one)} “{one.label or one.shot}”"


def _tried(visit: VisitPart) -> set[str]:
    return {one.saddle for one in visit.tried}


def _sight(one: PhotoPart | FilmPart) -> str:
    return "film" if isinstance(one, FilmPart) else "photo"


def _twice(document: PackDocument) -> Iterator[str]:
    lists: list[list[object]] = [
        [one.uuid for one in document.horses],
        [one.uuid for one in document.saddles],
        [(one.uuid, one.version.sha256) for one in document.backs],
        [(one.saddle, one.version.sha256) for one in document.saddle_records],
        [(one.uuid, one.version.sha256) for one in document.studies],
        [one.uuid for one in document.plans],
        [one.uuid for one in document.orders],
        [one.uuid for one in document.visits],
        [one.uuid for one in document.changes],
        [one.uuid for one in document.shortlists],
        [one.uuid for one in document.sights()],
    ]
    lists += [[one.saddle for one in visit.tried] for visit in document.visits]
    lists += [[one.back for one in change.backs] for change in document.changes]
    yield from ("a record that is in it twice" for names in lists if len(set(names)) != len(names))
