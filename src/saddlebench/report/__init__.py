"""Documents for owner and workshop."""

from saddlebench.report.document import owner_and_workshop
from saddlebench.report.pictures import Pictures, pictures_of

__all__ = ["Pictures", "owner_and_workshop", "pictures_of"]
