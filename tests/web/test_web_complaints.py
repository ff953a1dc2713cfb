"""What users of such programs complain about elsewhere: each a requirement here, and the tests that hold it.

Where no other test holds one, it stands below: numbers, and hours.
"""

import datetime as dt
import re
import uuid as uuids
from pathlib import Path

import icalendar
import pytest
from web_cast import Cast

import saddlebench.web
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.enums import Purpose, Subject, VisitState

TESTS = Path(__file__).resolve().parent.parent
HELD: dict[str, dict[str, tuple[str, ...]]] = {
    "typed work lost: no signal, signed out, page reloaded": {
        "browser/test_browser_interrupted.py": (
            "test_a_field_saves_itself_through_signing_in_again_and_a_kill",
            "test_a_form_not_yet_sent_is_offered_back_after_a_reload",
        ),
        "browser/test_film_and_draft.py": ("test_a_saddle_begun_on_the_phone_is_recorded_on_the_laptop",),
        "web/test_web_signing_in.py": (
            "test_what_was_typed_when_signed_out_is_kept_and_then_saved",
            "test_a_partial_request_is_told_401_and_the_dialog_signs_in",
        ),
        "practice/test_practice_entering.py": (
            "test_a_field_is_saved_as_it_is_entered",
            "test_a_repeat_is_no_duplicate_and_says_what_was_said_then",
        ),
        "practice/test_practice_killed.py": ("test_what_was_said_to_be_saved_is_there",),
    },
    "a view in three dimensions that traps a phone": {
        "browser/test_study_browser.py": (
            "test_two_fingers_turn_and_one_scrolls_the_page",
            "test_the_view_turns_by_keyboard_changes_its_layer_and_leaves_the_picture",
        ),
    },
    "backups that the next version cannot read": {
        "past/test_past_folders.py": (
            "test_there_are_folders_of_earlier_versions",
            "test_an_old_backup_restores_into_this_version_and_everything_can_be_taken_away",
        ),
        "practice/test_practice_keeping.py": ("test_a_backup_restores_elsewhere_and_is_proved_equal",),
    },
    "a database copied while it runs, or restored over what lay beside it": {
        "practice/test_practice_keeping.py": (
            "test_a_backup_holds_together_while_others_go_on_writing",
            "test_what_was_restored_is_swapped_in_and_the_old_folder_stays",
            "test_a_copy_is_one_file_whatever_lies_beside_the_original",
        ),
    },
    "an upgrade that stops half way": {
        "past/test_past_folders.py": (
            "test_a_failed_step_leaves_the_folder_as_it_was_and_the_next_try_brings_it_up",
        ),
    },
    "the decimal comma": {
        "web/test_web_complaints.py": (
            "test_no_field_lets_the_browsers_language_decide_what_a_number_is",
            "test_numbers_are_typed_as_text_on_a_keyboard_of_digits_and_come_back_with_their_unit",
        ),
        "practice/test_practice_reading.py": (
            "test_comma_and_point_are_both_taken",
            "test_what_can_be_read_two_ways_is_asked_about",
        ),
    },
    "a phone's storage taken for an archive": {
        "browser/test_phone_alone.py": (
            "test_a_visit_in_flight_mode_through_reloads_then_sent_once",
            "test_no_room_left_is_said_and_what_was_kept_stays",
            "test_a_saved_file_is_read_in_on_the_laptop",
        ),
        "browser/test_phone_killed.py": ("test_every_reading_that_was_said_to_be_kept_is_there",),
    },
    "paper that is not to scale": {
        "oracle/test_replica_paper.py": (
            "test_every_sheet_carries_two_bars_at_right_angles_and_says_the_scale_is_not_checked",
            "test_a_printer_that_stretches_unevenly_is_corrected_in_both_directions",
        ),
        "web/replica/test_web_replica_files.py": ("test_templates_are_corrected_by_the_bars_as_measured",),
    },
    "compiled parts that cannot be kept, or come again for ever": {
        "architecture/test_datafolder.py": (
            "test_the_cache_lies_in_the_data_folder",
            "test_a_home_that_cannot_be_made_gets_a_private_throw_away_folder",
            "test_compiled_parts_of_old_versions_are_removed_in_time",
        ),
    },
    "parts missing after installing, and nobody says which": {
        "cli/test_main_job.py": ("test_what_the_program_brings_is_listed",),
    },
    "a database that is locked once somebody else writes": {
        "practice/test_practice_at_once.py": (
            "test_twenty_writers_into_one_visit_lose_nothing",
            "test_one_entry_sent_twenty_times_at_once_is_one_entry",
        ),
        "browser/test_served_crowd.py": ("test_twenty_people_write_and_read_at_once_and_nothing_is_lost",),
    },
    "a phone that the laptop does not answer": {
        "browser/test_served_phone.py": (
            "test_the_window_shows_the_machines_address_and_a_square_for_the_camera",
            "test_the_code_lets_a_phone_in_to_sign_in_and_save",
        ),
    },
    "a phone's own kind of photo, and where it was taken": {
        "web/photos/test_web_photo_heic.py": ("test_a_heic_photo_is_converted_and_says_no_place",),
        "web/photos/test_web_photo_pictures.py": ("test_where_it_was_taken_and_with_what_is_gone",),
    },
    "solids a thousand times too large": {
        "oracle/test_replica_solids.py": (
            "test_3mf_states_millimetres_and_is_what_was_made",
            "test_stl_is_in_millimetres_and_its_name_says_its_box",
        ),
    },
    "an hour of summer time refused": {
        "web/test_web_complaints.py": (
            "test_an_hour_of_the_clocks_change_is_taken_and_shown_as_it_was_written",
        ),
    },
}
"""Each complaint, and which tests hold that it is none here."""
TEMPLATES = sorted(Path(saddlebench.web.__file__).parent.rglob("*.html"))
_INPUT = re.compile(r"<input[^>]*>")


def test_no_field_lets_the_browsers_language_decide_what_a_number_is() -> None:
    assert len(TEMPLATES) > 60
    wrong = [
        str(one) for one in TEMPLATES if re.search(r"""type=["']?number""", one.read_text(encoding="utf-8"))
    ]
    assert wrong == []


def test_numbers_are_typed_as_text_on_a_keyboard_of_digits_and_come_back_with_their_unit(cast: Cast) -> None:
    fitter, horse = cast.browser("fitter"), cast.here[Subject.HORSE]
    text = fitter.get(f"/horses/{horse}/edit/").content.decode()
    (field,) = [one for one in _INPUT.findall(text) if 'name="rider_mass_kg"' in one]
    assert 'inputmode="decimal"' in field
    assert 'type="text"' in field or "type=" not in field
    for typed, shown in (("70,5", "70.5"), ("71.25", "71.25")):
        seen = queries.horse_page(cast.actors["fitter"], uuids.UUID(horse)).revision
        posted = {
            "rider_mass_kg": typed,
            "rider_mass_kg.seen": str(seen),
            "rider_mass_kg.key": str(uuids.uuid4()),
        }
        said = fitter.post(f"/records/horse/{horse}/field/", posted).content.decode()
        assert "saved at" in said
        assert f'value="{shown}"' in said
        page = fitter.get(f"/horses/{horse}/").content.decode().replace("\xa0", " ")
        assert f"{shown} kg" in page
    ambiguous = {"rider_mass_kg": "1,234", "rider_mass_kg.seen": "9", "rider_mass_kg.key": str(uuids.uuid4())}
    asked = fitter.post(f"/records/horse/{horse}/field/", ambiguous)
    assert "can be read as 1234 or as 1.234" in asked.content.decode()
    assert queries.horse_page(cast.actors["fitter"], uuids.UUID(horse)).values["rider_mass_kg"] == 71.25


@pytest.mark.parametrize(
    ("day", "hour", "at_utc"),
    [
        (dt.date(2026, 3, 29), "01:30", "01:30"),  # The hour that is left out when summer time begins.
        (dt.date(2026, 10, 25), "01:30", "00:30"),  # The hour that comes twice when it ends: the first.
        (dt.date(2026, 7, 1), "01:30", "00:30"),
    ],
    ids=["left out", "twice", "summer"],
)
def test_an_hour_of_the_clocks_change_is_taken_and_shown_as_it_was_written(
    cast: Cast, day: dt.date, hour: str, at_utc: str
) -> None:
    visit = services.start_visit(
        cast.actors["fitter"],
        on=day,
        purpose=Purpose.RECHECK,
        horse=uuids.UUID(cast.here[Subject.HORSE]),
        starts_at=hour,
        zone="Europe/London",
        state=VisitState.PLANNED,
    )
    fitter = cast.browser("fitter")
    page = fitter.get(f"/visits/{visit.uuid}/", follow=True).content.decode()
    assert f"{day.day} {day:%b}" in page or day.isoformat() in page
    (entry,) = [
        one for one in queries.diary(cast.actors["fitter"], day, day).entries if one.uuid == visit.uuid
    ]
    assert (entry.day, f"{entry.starts_at:%H:%M}") == (day, hour)
    text = crossing.diary_calendar(cast.actors["fitter"], day, day)
    events = {str(one["UID"]): one for one in icalendar.Calendar.from_ical(text).walk("VEVENT")}
    event = events[f"{visit.uuid}@saddlebench"]
    assert f"{event['DTSTART'].dt.astimezone(dt.UTC):%H:%M}" == at_utc


@pytest.mark.parametrize("complaint", HELD)
def test_every_complaint_is_held_by_tests_that_are_there(complaint: str) -> None:
    for file, names in HELD[complaint].items():
        there = set(
            re.findall(r"^ *def (test_\w+)", (TESTS / file).read_text(encoding="utf-8"), re.MULTILINE)
        )
        assert set(names) <= there, file
