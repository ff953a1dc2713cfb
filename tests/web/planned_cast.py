"""A plan that the engine really made for the cast's fit check; sought once a process."""

import uuid as uuids

from study_cast import Checked
from web_cast import Cast

from saddlebench.engine.alter import Policy
from saddlebench.exchange.records import as_json
from saddlebench.practice.documents import Document
from saddlebench.practice.services.planning import compute_plan
from saddlebench.practice.services.plans import record_plan

_made: dict[str, Document] = {}


def recorded_plan(cast: Cast, checked: Checked, who: str = "fitter") -> uuids.UUID:
    """Record a plan for the cast's fit check and return its name."""
    actor, study = cast.actors[who], uuids.UUID(checked.study)
    if "plan" not in _made:
        _made["plan"] = Document(text=as_json(compute_plan(actor, study, 1, Policy())))
    return record_plan(actor, _made["plan"], study_uuid=study, number=1).uuid
