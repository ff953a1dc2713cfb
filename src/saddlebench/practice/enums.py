"""The closed lists of the records. Their words for people are in `phrases`."""

from enum import StrEnum


class Role(StrEnum):
    """What a member is to a practice."""

    OWNER = "owner"
    FITTER = "fitter"
    WORKSHOP = "workshop"
    READER = "reader"


class Action(StrEnum):
    """What a person may want to do; `rules` says who may."""

    SEE_HORSES = "see_horses"
    SEE_SADDLES = "see_saddles"
    SEE_PEOPLE = "see_people"
    SEE_ENTRIES = "see_entries"
    EDIT_PEOPLE = "edit_people"
    EDIT_HORSES = "edit_horses"
    EDIT_SADDLES = "edit_saddles"
    ENTER_VISIT = "enter_visit"
    RECORD_BACK = "record_back"
    RECORD_SADDLE = "record_saddle"
    RECORD_STUDY = "record_study"
    REBUILD = "rebuild"
    WITHDRAW = "withdraw"
    ERASE = "erase"
    EXPORT = "export"
    IMPORT = "import"
    MANAGE_MEMBERS = "manage_members"
    MANAGE_PRACTICE = "manage_practice"
    KEEP = "keep"


class Subject(StrEnum):
    """What an entry or an audit row is about."""

    PRACTICE = "practice"
    MEMBER = "member"
    CLIENT = "client"
    YARD = "yard"
    HORSE = "horse"
    SADDLE = "saddle"
    VISIT = "visit"
    VISIT_SADDLE = "visit_saddle"
    PHOTO = "photo"
    BACK = "back"
    STUDY = "study"
    RECHECK = "recheck"
    CAPTURE = "capture"
    INSTRUMENT = "instrument"
    PLAN = "plan"
    ORDER = "order"
    CHOICE = "choice"
    COMPARISON = "comparison"


class Outcome(StrEnum):
    """What became of one entry."""

    SAVED = "saved"
    SAME = "same"
    HELD = "held"
    """Someone else had entered another value meanwhile: kept, not applied, both are shown."""


class VisitState(StrEnum):
    """How far a visit is."""

    PLANNED = "planned"
    OPEN = "open"
    FINISHED = "finished"


class Purpose(StrEnum):
    """Why a visit is made."""

    FIRST = "first"
    RECHECK = "recheck"
    TRIAL = "trial"
    COMPLAINT = "complaint"
    DELIVERY = "delivery"
    SECOND_OPINION = "second_opinion"


class Family(StrEnum):
    """The families of saddle."""

    PANELLED = "panelled"
    CUT_BACK = "cut_back"
    BARS = "bars"
    SIDE_SADDLE = "side_saddle"
    TREELESS = "treeless"
    FLEXIBLE_TREE = "flexible_tree"
    PAD_SADDLE = "pad_saddle"


class Holding(StrEnum):
    """Whose saddle it is."""

    CLIENT = "client"
    STOCK = "stock"


class BreedType(StrEnum):
    """A coarse type; the breed itself is free text."""

    HOT = "hot"
    WARMBLOOD = "warmblood"
    COB = "cob"
    NATIVE = "native"
    GAITED = "gaited"
    STOCK_HORSE = "stock_horse"
    IBERIAN = "iberian"
    ARAB = "arab"
    HEAVY = "heavy"
    PONY = "pony"
    DONKEY_OR_MULE = "donkey_or_mule"
    OTHER = "other"


class Work(StrEnum):
    """How much the horse works."""

    NONE = "none"
    LIGHT = "light"
    MEDIUM = "medium"
    HARD = "hard"
    REHAB = "rehab"
    BACKING = "backing"


class Vocabulary(StrEnum):
    """Which English the practice speaks: girth strap and numnah, or billet and pad."""

    BRITISH = "british"
    AMERICAN = "american"


class DiaryKind(StrEnum):
    """What stands in the diary."""

    VISIT = "visit"
    RECHECK = "recheck"
    ORDER = "order"
    TRIAL = "trial"


class RecheckReason(StrEnum):
    """Why a horse should be seen again."""

    STEADY = "steady"
    YOUNG = "young"
    REHAB = "rehab"
    CHANGING_WEIGHT = "changing_weight"
    NEW_FLOCK = "new_flock"
    AS_AGREED = "as_agreed"


class ComparisonKind(StrEnum):
    """What was worked out from several records of a horse."""

    CHANGE = "change"
    THEN_AND_NOW = "then_and_now"
    HAND = "hand"
    FITTERS = "fitters"


class ChoiceKind(StrEnum):
    """What was chosen from the stock."""

    SHORTLIST = "shortlist"
    TAKERS = "takers"
    SEASON = "season"


class JobState(StrEnum):
    """How far a piece of long work is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"
    INTERRUPTED = "interrupted"
