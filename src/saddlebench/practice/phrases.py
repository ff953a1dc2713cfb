"""The records' words for people, in one place, ready to be translated."""

from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from saddlebench.practice.enums import (
    Action,
    BreedType,
    Family,
    Holding,
    Outcome,
    Purpose,
    RecheckReason,
    Role,
    Subject,
    VisitState,
    Vocabulary,
    Work,
)

# Pairs, not a table: members of two lists may share their value, and then compare equal.
_PAIRS: tuple[tuple[StrEnum, Promise], ...] = (
    (Role.OWNER, _("Owner of the practice")),
    (Role.FITTER, _("Fitter")),
    (Role.WORKSHOP, _("Workshop")),
    (Role.READER, _("Reader")),
    (Action.SEE_HORSES, _("See horses and visits")),
    (Action.SEE_SADDLES, _("See saddles")),
    (Action.SEE_PEOPLE, _("See people and their addresses")),
    (Action.SEE_ENTRIES, _("See who entered what when")),
    (Action.EDIT_PEOPLE, _("Edit people and yards")),
    (Action.EDIT_HORSES, _("Edit horses")),
    (Action.EDIT_SADDLES, _("Edit saddles")),
    (Action.ENTER_VISIT, _("Fill in a visit")),
    (Action.RECORD_BACK, _("Record a back")),
    (Action.RECORD_SADDLE, _("Record a saddle")),
    (Action.RECORD_STUDY, _("Run a fit check")),
    (Action.REBUILD, _("Rebuild a back elsewhere")),
    (Action.WITHDRAW, _("Withdraw and put back")),
    (Action.ERASE, _("Erase a person")),
    (Action.EXPORT, _("Take records out")),
    (Action.IMPORT, _("Bring records in")),
    (Action.MANAGE_MEMBERS, _("Add and remove members")),
    (Action.MANAGE_PRACTICE, _("Change the practice")),
    (Action.KEEP, _("Back up and restore")),
    (Subject.PRACTICE, _("Practice")),
    (Subject.MEMBER, _("Member")),
    (Subject.CLIENT, _("Client")),
    (Subject.YARD, _("Yard")),
    (Subject.HORSE, _("Horse")),
    (Subject.SADDLE, _("Saddle")),
    (Subject.VISIT, _("Visit")),
    (Subject.VISIT_SADDLE, _("Saddle tried at a visit")),
    (Subject.PHOTO, _("Photo")),
    (Subject.BACK, _("Back record")),
    (Subject.STUDY, _("Fit check")),
    (Subject.RECHECK, _("Re-check")),
    (Subject.CAPTURE, _("Back being measured")),
    (Subject.INSTRUMENT, _("Instrument")),
    (Subject.PLAN, _("Alteration plan")),
    (Subject.ORDER, _("Work order")),
    (Subject.CHOICE, _("Shortlist")),
    (Outcome.SAVED, _("Saved")),
    (Outcome.SAME, _("Already so")),
    (Outcome.HELD, _("Kept beside another value: choose")),
    (VisitState.PLANNED, _("Planned")),
    (VisitState.OPEN, _("Under way")),
    (VisitState.FINISHED, _("Finished")),
    (Purpose.FIRST, _("First visit")),
    (Purpose.RECHECK, _("Re-check")),
    (Purpose.TRIAL, _("Saddles on trial")),
    (Purpose.COMPLAINT, _("Something is wrong")),
    (Purpose.DELIVERY, _("Delivery")),
    (Purpose.SECOND_OPINION, _("Second opinion")),
    (Family.PANELLED, _("Panelled")),
    (Family.CUT_BACK, _("Cut-back flat seat")),
    (Family.BARS, _("Bars")),
    (Family.SIDE_SADDLE, _("Side-saddle")),
    (Family.TREELESS, _("Treeless")),
    (Family.FLEXIBLE_TREE, _("Flexible tree")),
    (Family.PAD_SADDLE, _("Pad saddle")),
    (Holding.CLIENT, _("The client's")),
    (Holding.STOCK, _("In stock")),
    (BreedType.HOT, _("Thoroughbred type")),
    (BreedType.WARMBLOOD, _("Warmblood")),
    (BreedType.COB, _("Cob")),
    (BreedType.NATIVE, _("Native pony")),
    (BreedType.GAITED, _("Gaited")),
    (BreedType.STOCK_HORSE, _("Stock horse")),
    (BreedType.IBERIAN, _("Iberian")),
    (BreedType.ARAB, _("Arab")),
    (BreedType.HEAVY, _("Heavy horse")),
    (BreedType.PONY, _("Pony")),
    (BreedType.DONKEY_OR_MULE, _("Donkey or mule")),
    (BreedType.OTHER, _("Other")),
    (Work.NONE, _("Not ridden")),
    (Work.LIGHT, _("Light")),
    (Work.MEDIUM, _("Medium")),
    (Work.HARD, _("Hard")),
    (Work.REHAB, _("Coming back after a break")),
    (Work.BACKING, _("Being backed")),
    (Vocabulary.BRITISH, _("girth strap, numnah")),
    (Vocabulary.AMERICAN, _("billet, pad")),
    (RecheckReason.STEADY, _("Steady adult")),
    (RecheckReason.YOUNG, _("Young horse")),
    (RecheckReason.REHAB, _("Coming back after a break")),
    (RecheckReason.CHANGING_WEIGHT, _("Weight is changing")),
    (RecheckReason.NEW_FLOCK, _("New flock")),
    (RecheckReason.AS_AGREED, _("As agreed")),
)
WORDS: dict[tuple[str, str], Promise] = {
    (type(member).__name__, member.value): words for member, words in _PAIRS
}

SECTION_WORDS: dict[str, Promise] = {
    "people": _("People"),
    "reason": _("Reason and history"),
    "horse": _("The horse today"),
    "condition": _("Stance and condition"),
    "rider": _("Rider"),
    "kit": _("Kit"),
    "decision": _("Decision"),
    "stops": _("Stops"),
    "states": _("Placed, girthed, rider up, after 20 minutes"),
    "ridden": _("Ridden"),
}

CHOICE_WORDS: dict[str, Promise] = {
    "lame_or_unsteady": _("Lame or unsteady"),
    "wound_heat_swelling_gall": _("Wound, heat, swelling or gall"),
    "pain_at_light_touch": _("Pain or dipping at a light touch"),
    "one_sided_wasting": _("Muscle wasted on one side"),
    "saddle_always_slips_one_way": _("The saddle always slips one way"),
    "sudden_change_of_behaviour": _("Sudden bucking, rearing or change at girthing"),
    "recent_back_treatment_without_leave": _("Back treated lately, no leave given"),
    "very_thin": _("Very thin"),
    "sedated": _("Sedated"),
    "contagious_skin": _("Skin that may be catching: clean the instrument"),
    "unsafe_ground_or_handling": _("Ground or handling is not safe"),
    "tree_in_doubt": _("Tree in doubt"),
    "stirrup_bar_in_doubt": _("Stirrup bar in doubt"),
    "strap_in_doubt": _("Girth strap in doubt"),
    "rigging_in_doubt": _("Rigging in doubt"),
}


def choice_words(choice: str) -> Promise | str:
    """Return a choice's words; most are their own name with blanks."""
    return CHOICE_WORDS.get(choice) or choice.replace("_", " ").capitalize()


def words_of(member: StrEnum) -> Promise:
    """Return a list member's words."""
    return WORDS[type(member).__name__, member.value]
