"""A process that enters values into a visit and says each one that was saved, until it is killed."""

import sys
import uuid as uuids
from pathlib import Path

from saddlebench.practice.start import set_up

if __name__ == "__main__":
    home, practice_id, user_id, visit, start = sys.argv[1:6]
    set_up(Path(home))

    from saddlebench.practice import services
    from saddlebench.practice.enums import Role, Subject
    from saddlebench.practice.rules import Actor

    actor = Actor(user_id=int(user_id), practice_id=int(practice_id), role=Role.FITTER)
    fields = ("reason", "history", "medication", "rubs", "white_hairs")
    for number in range(int(start), sys.maxsize):
        entered = services.Entered(
            field=fields[number % len(fields)], value=f"value {number}", key=uuids.uuid4(), seen=2**31 - 1
        )
        (result,) = services.enter(actor, Subject.VISIT, uuids.UUID(visit), [entered])
        sys.stdout.write(f"{result.field}\t{result.value}\t{result.revision}\n")
        sys.stdout.flush()
