"""A practice's own limits in place of the defaults: what can be set, as a file, and out of a fit check."""

from saddlebench.exchange.limits.file import limits_schema, limits_text, read_limits
from saddlebench.exchange.limits.groups import ENDS, LimitGroup, group_of, levels_of, limit_groups
from saddlebench.exchange.limits.own import OwnLimits, own_limits_of

__all__ = [
    "ENDS",
    "LimitGroup",
    "OwnLimits",
    "group_of",
    "levels_of",
    "limit_groups",
    "limits_schema",
    "limits_text",
    "own_limits_of",
    "read_limits",
]
