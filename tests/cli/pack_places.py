"""Two practices in two folders of their own, step by step; run as a process that knows one folder alone.

`python pack_places.py STEP FOLDER` with SADDLEBENCH_HOME set; what goes between them lies in FOLDER.
"""

import json
import shutil
import sys
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS)]

from saddlebench.datafolder import prepare_compiled_cache  # noqa: E402

prepare_compiled_cache()
from saddlebench.web.serving import Reach, bind_settings  # noqa: E402

bind_settings(Reach())
from saddlebench.practice.start import start  # noqa: E402

start()
from typer.testing import CliRunner  # noqa: E402

from saddlebench.cli.app import app  # noqa: E402
from saddlebench.demo.files import write_table  # noqa: E402
from saddlebench.exchange.records import SettingsDocument, parse_document  # noqa: E402
from saddlebench.practice import services  # noqa: E402

STEP, SHARED = sys.argv[1], Path(sys.argv[2])
PASSWORD = "invented-pass-phrase"  # noqa: S105
COMB = "comb-24x15-foot"


def run(*words: object) -> Any:
    """Run a command as a person types it, and return what a machine reads."""
    done = CliRunner().invoke(app, [*map(str, words), "--json"])
    if done.exit_code:
        sys.exit(f"{words}: {done.output} {done.exception!r}")
    return json.loads(done.stdout)["result"]


def begin(practice: str, person: str) -> Any:
    email = f"{person.split(maxsplit=1)[0].lower()}@{practice.split(maxsplit=1)[0].lower()}.example"
    _, owner = services.found_practice(practice, person, email, PASSWORD)
    return services.actor_for(owner)


def measure_and_send(folder: Path) -> Any:
    """The fitter at the yard: a table of readings becomes a back, and is sent with a saddle."""
    actor = begin("Tussock Saddles (invented)", "Orla Invented")
    client = services.take_on_client(actor, {"label": "Wilma Fernlea"})
    horse = services.take_on_horse(
        actor, {"label": "Bramble", "microchip": "985000123456789", "client": str(client.uuid)}
    )
    saddle = services.take_on_saddle(actor, {"label": "The brown one", "family": "panelled"})
    run(
        "back", "table", folder / "readings.csv", "--sheet", folder / "sheet.toml", "-o", folder / "back.json"
    )
    back = run("records", "put", "backs", folder / "back.json", "--horse", horse.uuid)["uuid"]
    run("records", "put", "saddles", folder / "bramble-saddle.json", "--of", saddle.uuid)
    photo = run("records", "put", "photos", folder / "photo.jpg", "--horse", horse.uuid)["uuid"]
    made = run(
        *("pack", "make", "--back", back, "--saddle", saddle.uuid, "--photo", photo),
        *("--message", "Please build for this back.", "-o", SHARED / "bramble.zip"),
    )
    return {"pack": made, "key": run("pack", "key"), "back": back}


def refused(*words: object) -> str:
    """Run a command that is refused, and return what it says."""
    done = CliRunner().invoke(app, [*map(str, words)])
    return done.output if done.exit_code == 1 else f"exit {done.exit_code}"


def rebuild_and_answer(folder: Path) -> Any:
    """The workshop: takes the pack, rebuilds the back on its comb, proves it, tries its stock, answers."""
    begin("Gorse Saddlery (invented)", "Una Stranger")
    checked = run("pack", "check", SHARED / "bramble.zip")
    spoken = CliRunner().invoke(app, ["pack", "check", str(SHARED / "bramble.zip")]).output
    (folder / "junk.zip").write_bytes(b"junk")
    refusals = [
        refused("pack", "check", folder / "junk.zip"),
        refused("pack", "check", folder / "none.zip"),
        refused("pack", "take", SHARED / "bramble.zip"),
    ]
    taken = run("pack", "take", SHARED / "bramble.zip", "--trust")
    again = run("pack", "take", SHARED / "bramble.zip")
    backs = [one["uuid"] for one in taken["records"] if one["kind"] == "back"]
    run("records", "get", "backs", backs[0], "-o", folder / "theirs.json")
    run("replica", "settings", folder / "theirs.json", "-i", COMB, "-o", folder / "kit")
    (document,) = (folder / "kit").glob("*.json")
    held = parse_document(SettingsDocument, document.read_text("utf-8"), str(document))
    # Set as the sheet of settings says, read off again, and measured as if it were the horse.
    write_table(held.readings(), folder / "rebuild.csv")
    set_right = run("replica", "check", folder / "theirs.json", folder / "rebuild.csv", "-i", COMB)
    sheet = (SHARED / "sheet.toml").read_text("utf-8").replace("comb-41x10", COMB)
    (folder / "rebuild.toml").write_text(sheet, encoding="utf-8")
    run(
        "back",
        "table",
        folder / "rebuild.csv",
        "--sheet",
        folder / "rebuild.toml",
        "-o",
        folder / "built.json",
    )
    proof = run("replica", "prove", folder / "theirs.json", folder / "built.json", "-o", folder / "proof.pdf")
    run("stock", "invent", folder / "shop", "-n", 3)
    tried = run(
        *("shortlist", folder / "theirs.json", folder / "shop" / "stock.csv", "--rider", 70, "--all"),
        *("--tries", 8),
    )
    answer = run(
        *("pack", "answer", taken["taken_pack"], "--done", "Rebuilt on our own comb and proved: good"),
        *(
            "--question",
            "May we see her ridden in the second saddle?",
            "--message",
            "Three tried, see below.",
        ),
        *("-o", SHARED / "answer.zip"),
    )
    return {
        "check": checked,
        "spoken": spoken,
        "refusals": refusals,
        "key": run("pack", "key"),
        "take": taken,
        "again": again,
        "set": set_right,
        "proof": proof,
        "tried": tried,
        "answer": answer,
        "same_bytes": (folder / "theirs.json").read_bytes() == (SHARED / "back.json").read_bytes(),
    }


def read_answer(_folder: Path) -> Any:
    """The fitter again: what came back."""
    checked = run("pack", "check", SHARED / "answer.zip")
    return {"check": checked, "take": run("pack", "take", SHARED / "answer.zip", "--trust")}


STEPS = {
    "measure": measure_and_send,
    "rebuild": rebuild_and_answer,
    "read": read_answer,
}
if __name__ == "__main__":
    own = SHARED if STEP in {"measure", "read"} else SHARED / "workshop"
    own.mkdir(exist_ok=True)
    print(json.dumps(STEPS[STEP](own)))  # noqa: T201
    if STEP == "rebuild":
        shutil.rmtree(own)
