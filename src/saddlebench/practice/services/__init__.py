"""What people do: one function each, checked, whole or not at all, and written down."""

from saddlebench.practice.services.accounts import (
    actor_for,
    add_member,
    change_practice,
    change_role,
    end_membership,
    found_practice,
    is_first_start,
)
from saddlebench.practice.services.captures import (
    CaptureFinishedError,
    describe_instrument,
    enter_readings,
    finish_capture,
    start_capture,
    take_up_again,
)
from saddlebench.practice.services.checking import CannotBeJudgedError, Rerun, compute_check, rerun_check
from saddlebench.practice.services.deeds import NotFoundError, SameMomentError
from saddlebench.practice.services.drafts import keep_saddle_draft, leave_saddle_draft
from saddlebench.practice.services.entering import Entered, EntryResult, OtherValue, enter
from saddlebench.practice.services.erasing import Erasure, erase_person
from saddlebench.practice.services.limits import set_own_limit
from saddlebench.practice.services.photos import PhotoFacts, attach_photo
from saddlebench.practice.services.records import (
    Recorded,
    choose_version,
    correct_back,
    record_back,
    record_run,
    record_saddle,
    record_study,
)
from saddlebench.practice.services.stock import (
    StockFacts,
    StockImported,
    import_stock,
    put_on_trial,
    reserve,
    set_stock,
    take_back,
)
from saddlebench.practice.services.taking_on import (
    move_to_stock,
    sell_from_stock,
    take_on_client,
    take_on_horse,
    take_on_saddle,
    take_on_yard,
    use_saddle_on,
)
from saddlebench.practice.services.visits import (
    StoppedError,
    answer_recheck,
    give_advice,
    set_recheck,
    start_visit,
    stops_of,
    take_saddle_off,
    try_saddle,
)
from saddlebench.practice.services.withdrawing import put_back, withdraw

__all__ = [
    "CannotBeJudgedError",
    "CaptureFinishedError",
    "Entered",
    "EntryResult",
    "Erasure",
    "NotFoundError",
    "OtherValue",
    "PhotoFacts",
    "Recorded",
    "Rerun",
    "SameMomentError",
    "StockFacts",
    "StockImported",
    "StoppedError",
    "actor_for",
    "add_member",
    "answer_recheck",
    "attach_photo",
    "change_practice",
    "change_role",
    "choose_version",
    "compute_check",
    "correct_back",
    "describe_instrument",
    "end_membership",
    "enter",
    "enter_readings",
    "erase_person",
    "finish_capture",
    "found_practice",
    "give_advice",
    "import_stock",
    "is_first_start",
    "keep_saddle_draft",
    "leave_saddle_draft",
    "move_to_stock",
    "put_back",
    "put_on_trial",
    "record_back",
    "record_run",
    "record_saddle",
    "record_study",
    "rerun_check",
    "reserve",
    "sell_from_stock",
    "set_own_limit",
    "set_recheck",
    "set_stock",
    "start_capture",
    "start_visit",
    "stops_of",
    "take_back",
    "take_on_client",
    "take_on_horse",
    "take_on_saddle",
    "take_on_yard",
    "take_saddle_off",
    "take_up_again",
    "try_saddle",
    "use_saddle_on",
    "withdraw",
]
