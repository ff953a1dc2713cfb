"""A practice's own limits, and those that a fit check was judged by."""

from collections.abc import Mapping
from dataclasses import dataclass

from saddlebench.engine.fit.criteria import Criteria, LimitPlace, place_of
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, Levels, Limit

_LABEL_ENDS = ": own limits where set, else saddlebench defaults"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLimits:
    """Limits that a practice has set; all others are the defaults."""

    owner: str
    """By what name findings call whose limit it is."""
    levels: Mapping[LimitPlace, Levels]

    @property
    def label(self) -> str:
        """What a fit check says of the table it was judged by."""
        return f"{self.owner}{_LABEL_ENDS}"

    def criteria(self) -> Criteria:
        """Return the default table with these limits in it."""
        return DEFAULT_CRITERIA.with_own(self.owner, self.levels)


def own_limits_of(study: FitStudy) -> OwnLimits | None:
    """Return the own limits that a fit check was judged by, as far as it shows them."""
    label = study.inputs.criteria_label
    if not label.endswith(_LABEL_ENDS):
        return None
    levels = {
        place_of(finding.name, one.limit, study.saddle.family): one.limit.levels
        for finding in study.put.findings
        for one in finding.all_judged
        if isinstance(one.limit, Limit) and one.limit.owner != DEFAULT_OWNER
    }
    return OwnLimits(owner=label.removesuffix(_LABEL_ENDS), levels=levels)
