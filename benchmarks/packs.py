"""How long a pack with 30 photos takes: made, verified, taken; beside hashing its bytes once.

`OPENBLAS_NUM_THREADS=1 python benchmarks/packs.py` prints seconds, and the ratio to hashing the file once in
the same run: that says more than seconds on a machine that others use as well. November 2026, two quiet
cores: 48 MB, made 0.6 s, verified and taken 0.4 s together, 6 times hashing once.
"""

import hashlib
import io
import os
import sys
import tempfile
import time
import uuid as uuids
from datetime import date
from pathlib import Path

import numpy as np
from PIL import Image

HOME = Path(tempfile.mkdtemp(prefix="saddlebench-packs-"))
os.environ["SADDLEBENCH_HOME"] = str(HOME / "home")
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from saddlebench.practice.start import start  # noqa: E402

start()
from saddlebench.exchange.packs import opened_pack  # noqa: E402
from saddlebench.practice import services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.handover.choice import PackChoice  # noqa: E402
from saddlebench.practice.handover.gathering import gather  # noqa: E402
from saddlebench.practice.handover.keys import own_key  # noqa: E402
from saddlebench.practice.handover.sending import pack_file, send_pack  # noqa: E402
from saddlebench.practice.handover.taking import TakeChoices, take_pack  # noqa: E402
from saddlebench.practice.keeping.files import store  # noqa: E402
from saddlebench.practice.services import PhotoFacts  # noqa: E402
from support.packs import back_text  # noqa: E402

N_PHOTOS, WIDTH, HEIGHT = 30, 3600, 2700


def photo(seed: int) -> bytes:
    """Return a picture of the size that is kept of a phone's: smooth, with the grain of a sensor."""
    rng = np.random.default_rng(seed)
    small = Image.fromarray(rng.integers(0, 255, (27, 36, 3), dtype=np.uint8))
    dots = np.asarray(small.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC), dtype=np.int16)
    grain = rng.integers(-6, 7, dots.shape, dtype=np.int16)
    out = io.BytesIO()
    Image.fromarray(np.clip(dots + grain, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=90)
    return out.getvalue()


def actor_of(practice: str, email: str):
    _, owner = services.found_practice(practice, "Invented", email, "invented-pass-phrase")
    return services.actor_for(owner)


def timed(words: str, since: float) -> float:
    now = time.perf_counter()
    print(f"{words:34} {now - since:6.2f} s")
    return now


def main() -> None:
    home, there = HOME / "home", HOME / "there"
    sender, taker = actor_of("Gorse (invented)", "a@x.example"), actor_of("Tussock (invented)", "b@x.example")
    own_key(taker, there)
    horse = services.take_on_horse(sender, {"label": "Juniper"})
    back = services.record_back(sender, horse.uuid, Document(text=back_text()), measured_on=date(2026, 5, 3))
    names: list[uuids.UUID] = []
    for seed in range(N_PHOTOS):
        kept = store(home, photo(seed))
        made = services.attach_photo(sender, kept, PhotoFacts(original_sha256=kept.sha256), horse=horse.uuid)
        names.append(made.uuid)
    choice = PackChoice(backs=(back.version.back.uuid,), photos=tuple(names))
    at = time.perf_counter()
    pack = send_pack(sender, gather(sender, choice, home), home)
    at = timed("made, signed, opened once", at)
    path = pack_file(home, pack.uuid)
    print(f"{'size':34} {pack.size_bytes / 1e6:6.1f} MB, {N_PHOTOS} photos of {WIDTH} x {HEIGHT}")
    at = time.perf_counter()
    hashlib.sha256(path.read_bytes()).hexdigest()
    once = time.perf_counter() - at
    at = timed("its bytes hashed once", at)
    with opened_pack(path) as opened:
        verified = time.perf_counter() - at
        at = timed("verified", at)
        take_pack(taker, opened, TakeChoices(trusts_key=True), there)
        taken = time.perf_counter() - at
        timed("taken", at)
    whole = verified + taken
    print(f"{'verified and taken':34} {whole:6.2f} s = {whole / once:.1f} x hashing once")


if __name__ == "__main__":
    main()
