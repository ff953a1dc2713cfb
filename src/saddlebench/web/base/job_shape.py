"""Long work as other programs are told of it."""

import uuid as uuids
from datetime import datetime

from saddlebench.practice.enums import JobState
from saddlebench.web.base.interface import Shape


class JobShape(Shape):
    """Long work. A fit check that is done has the uuid of its job."""

    uuid: uuids.UUID
    words: str
    state: JobState
    done: int
    of: int
    doing: str
    said: str
    asked_by: str
    asked_at: datetime
    ended_at: datetime | None
    is_over: bool
    is_stopping: bool
