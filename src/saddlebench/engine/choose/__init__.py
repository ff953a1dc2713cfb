"""Choosing: which saddles of a stock suit a horse and rider, which horses a saddle, and how sure that is."""

from saddlebench.engine.choose.candidates import FLAP_NOT_RECORDED, SEAT_NOT_RECORDED, Candidate, Wanted
from saddlebench.engine.choose.cost import DEFAULT_WEIGHTS, CostRules
from saddlebench.engine.choose.limits import DEFAULT_LIMITS, HardLimit, HardLimits, RuledOut
from saddlebench.engine.choose.listed import Depth, Entry, HowSure, NotJudged, OrderDoubt, Shortlist, Work
from saddlebench.engine.choose.pool import HERE, OneProcess, Pool
from saddlebench.engine.choose.ranking import Place
from saddlebench.engine.choose.rider_size import DEFAULT_SIZES, RiderSize, SizeRules, usual_seat_in
from saddlebench.engine.choose.season import SEASON_LENGTH, Taker, Takers, season, takers
from saddlebench.engine.choose.settings import ShortlistSettings
from saddlebench.engine.choose.shortlist import shortlist

__all__ = [
    "DEFAULT_LIMITS",
    "DEFAULT_SIZES",
    "DEFAULT_WEIGHTS",
    "FLAP_NOT_RECORDED",
    "HERE",
    "SEASON_LENGTH",
    "SEAT_NOT_RECORDED",
    "Candidate",
    "CostRules",
    "Depth",
    "Entry",
    "HardLimit",
    "HardLimits",
    "HowSure",
    "NotJudged",
    "OneProcess",
    "OrderDoubt",
    "Place",
    "Pool",
    "RiderSize",
    "RuledOut",
    "Shortlist",
    "ShortlistSettings",
    "SizeRules",
    "Taker",
    "Takers",
    "Wanted",
    "Work",
    "season",
    "shortlist",
    "takers",
    "usual_seat_in",
]
