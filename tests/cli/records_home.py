"""Fill the folder that SADDLEBENCH_HOME names with the invented practice; print tokens and uuids as JSON."""

import json
import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "web")]

from saddlebench.practice.start import start  # noqa: E402

start()

from web_cast import make_cast  # noqa: E402

from exchange.studies import back_record  # noqa: E402
from saddlebench.exchange.records import BackDocument, as_json  # noqa: E402
from saddlebench.practice.enums import Role  # noqa: E402
from saddlebench.practice.services.tokens import end_token, make_token  # noqa: E402

cast = make_cast()
owner = cast.actors["owner"]
ended = make_token(owner, "ended", Role.OWNER)
end_token(owner, ended.token.uuid)
told = {
    "owner": make_token(owner, "test", Role.OWNER).secret,
    "reader": make_token(owner, "test", Role.READER).secret,
    "ended": ended.secret,
    "uuids": {subject.value: uuid for subject, uuid in cast.here.uuids.items()},
    "elsewhere": cast.elsewhere.uuids["horse"],
    "back": as_json(BackDocument.of(back_record())),
}
print(json.dumps(told))  # noqa: T201
