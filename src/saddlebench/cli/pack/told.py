"""What the pack commands print: whether it is right, whose it is, what it would change, what became of it."""

from typing import TYPE_CHECKING, Any

from saddlebench.cli.console import print_json, print_problems, results, words

if TYPE_CHECKING:
    from saddlebench.practice.handover.comparing import Comparison
    from saddlebench.practice.handover.items import Item
    from saddlebench.practice.handover.taken_records import Taken
    from saddlebench.practice.rules import Actor

STANDING_WORDS = {
    "own": "your own practice's key",
    "known": "known and trusted here",
    "new": "NOT KNOWN HERE YET: compare the fingerprint over the telephone, then take it with --trust",
    "changed": (
        "CHANGED: this sender was known with another key. Somebody may be posing as them. Call them on a "
        "number that you know; only if the fingerprint is theirs: --trust-changed-key"
    ),
    "refused": "NO LONGER TRUSTED HERE: it is not taken",
}
FATE_WORDS = {
    "new": "new",
    "here": "here already",
    "same_one": "the one here",
    "like": "ONE OF THIS NAME IS HERE: say --same or --another",
    "differs": "here in another version; theirs is taken only with --further",
    "withdrawn": "withdrawn here, and stays so",
}


def _item_json(item: "Item") -> dict[str, Any]:
    return {
        "kind": item.subject.value,
        "pack_uuid": str(item.origin),
        "label": item.label,
        "fate": item.fate.value,
        "uuid_here": str(item.local) if item.local else None,
        "might_be": [{"uuid": str(one.uuid), "label": one.label} for one in item.candidates],
        "differs_in": [
            {"field": one.name, "here": str(one.mine), "in_pack": str(one.theirs)} for one in item.differing
        ],
        "remark": item.remark,
    }


def check_told(found: "Comparison", *, as_json: bool) -> None:
    """Print what a pack is and what it would change."""
    document = found.document
    if as_json:
        result = {
            "pack": document.uuid,
            "sender": document.sender.label,
            "fingerprint": found.fingerprint,
            "key": found.known.standing.value,
            "closed": found.was_sealed,
            "answers": document.answers,
            "message": document.message,
            "work_done": [f"{one.on.isoformat()}: {one.words}" for one in document.work_done],
            "questions": list(document.questions),
            "taken_before": found.taken_before is not None,
            "records": [_item_json(one) for one in found.items],
        }
        print_json("pack check", result=result, problems=found.remarks)
        return
    print_problems(found.remarks)
    told = results()
    told.print(f"Right: every byte is as {document.sender.label} signed it on {document.made_at[:10]}.")
    told.print(f"Key {found.fingerprint}: {STANDING_WORDS[found.known.standing.value]}")
    if found.answers is not None:
        told.print(f"It answers your pack: {found.answers.label}")
    for line in document.message.splitlines():
        told.print(f"  {line}", markup=False)
    for work in document.work_done:
        told.print(f"  done {work.on.isoformat()}: {work.words}", markup=False)
    for question in document.questions:
        told.print(f"  asks: {question}", markup=False)
    _table(found)
    words().print("Nothing was written.")


def _table(found: "Comparison") -> None:
    from rich.table import Table

    table = Table("Record", "", "What would become of it", "Uuid in the pack", box=None, pad_edge=False)
    for item in found.items:
        more = "; ".join(f"{one.name}: here {one.mine}, there {one.theirs}" for one in item.differing)
        fate = FATE_WORDS[item.fate.value] + (f" (yours stays: {more})" if more else "")
        might = ", ".join(f"{one.label} = {one.uuid}" for one in item.candidates)
        kind = item.subject.value.replace("study", "fit check")
        kind += " record" if item.subject.value == "saddle" and item.sha256 else ""
        table.add_row(kind, item.label, f"{fate} {might}".strip(), str(item.origin))
    results().print(table)


def taken_told(taken: "Taken", actor: "Actor", *, as_json: bool) -> None:
    """Print what became of a pack."""
    from saddlebench.practice.queries.packs import taken_pack

    shown = taken_pack(actor, taken.pack.uuid)
    if as_json:
        result = {
            "taken_pack": str(taken.pack.uuid),
            "made": [_item_json(one) for one in taken.made],
            "left": [_item_json(one) for one in taken.left],
            "records": [
                {"kind": kind.value, "uuid": str(one.uuid), "label": one.label} for kind, one in shown.records
            ],
        }
        print_json("pack take", result=result)
        return
    told = results()
    told.print(f"Taken from {shown.sender}: {len(taken.made)} new, {len(taken.left)} left as they were.")
    for kind, one in shown.records:
        told.print(f"  {kind.value.replace('study', 'fit check'):10} {one.label}  {one.uuid}", soft_wrap=True)
    words().print(f"To answer it: saddlebench pack answer {taken.pack.uuid} …")
