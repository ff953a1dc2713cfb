"""Makes a small handover pack, run with an earlier version of the program on its path.

The packs beside this file were made by it, each with the code of the version that it is named after:
`PYTHONPATH=<old checkout>/src:<old checkout>/tests python make_pack.py <file to write>`.
Everyone and every animal in it is invented; the key is made for the pack alone and then forgotten.
"""

import sys
from pathlib import Path

from saddlebench.exchange.packs import made_keys, make_pack
from support.packs import content_of

keys = made_keys()
content = content_of(keys, with_study=False, message="Please look at the left shoulder.")
made = make_pack(content.document, content.files, keys, Path(sys.argv[1]))
print(made.tag_manifest_sha256, keys.public.fingerprint)  # noqa: T201
