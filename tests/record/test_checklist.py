"""The checklist of electronic records and signatures: every item has a test, by name.

The items are worded in `DEVELOPERS.md`; where they come from stands in the tests themselves.
"""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PEOPLE = "tests/station/test_checklist_people.py::"
RECORD = "tests/station/test_checklist_record.py::"
AMENDING = "tests/station/test_amending.py::"
SIGNATURE = "tests/record/test_signature.py::"
ITEMS: dict[str, tuple[str, ...]] = {
    "A1": (AMENDING + "test_a1_every_entry_named_was_there_before",),
    "A2": (AMENDING + "test_a2_every_result_comes_out_again_from_the_stored_raw_values",),
    "A3": (
        RECORD + "test_a3_a_clock_set_back_keeps_order_and_refuses_nothing",
        RECORD + "test_a3_a_clock_at_1970_loses_nothing_and_is_told",
        "tests/record/test_start.py::test_a_clock_set_back_is_entered_and_order_is_kept",
    ),
    "A4": (PEOPLE + "test_a4_ids_of_people_are_never_given_twice",),
    "B1": (
        PEOPLE + "test_b1_name_time_and_meaning_stand_beside_every_signature",
        RECORD + "test_b1_every_paper_bears_name_time_and_meaning_of_every_signature",
        RECORD + "test_b1_a_tag_and_what_was_erased_say_who_when_and_what",
        RECORD + "test_b1_no_other_paper_names_anybody_who_signs",
        RECORD + "test_b1_every_entry_taken_away_or_shown_bears_them",
    ),
    "B2": (
        RECORD + "test_b2_a_thousand_signatures_moved_verify_nowhere",
        SIGNATURE + "test_no_signature_holds_anywhere_else",
        SIGNATURE + "test_whatever_the_signer_saw_is_covered",
    ),
    "B3": (
        PEOPLE + "test_b3_a_broken_session_needs_name_and_secret_again",
        "tests/tui/test_terminal.py::"
        "test_b3_the_secret_is_asked_for_at_each_signature_where_that_is_the_rule",
        "tests/tui/test_terminal.py::test_an_idle_terminal_locks_and_shows_nothing_personal",
    ),
    "B4": (
        PEOPLE + "test_b4_a_reset_gives_no_manager_a_key_to_sign_with",
        PEOPLE + "test_b4_a_signature_with_a_secret_for_once_does_not_verify",
    ),
    "B5": (
        RECORD + "test_b5_whoever_is_said_to_sign_does_so_with_a_key_of_their_own",
        RECORD + "test_b5_nothing_printed_or_documented_claims_more",
    ),
    "B6": (PEOPLE + "test_b6_what_signing_means_is_signed_in_words_in_the_chain",),
    "C1": (
        AMENDING + "test_c1_an_amendment_keeps_old_and_new_who_and_why",
        AMENDING + "test_c1_without_a_reason_nothing_is_amended_or_voided",
        "tests/record/test_guards.py::test_a_foreign_connection_changes_nothing",
    ),
    "C2": (
        AMENDING + "test_c2_every_view_and_reprint_names_the_entry",
        AMENDING + "test_c2_a_voided_fill_says_so_everywhere",
        "tests/reports/test_marks.py::test_c2_a_label_bears_its_marks",
        "tests/reports/test_marks.py::test_c2_the_log_bears_them_as_paper_and_as_csv",
    ),
    "C3": (
        PEOPLE + "test_c3_every_change_of_state_is_an_entry_and_nothing_else_is",
        PEOPLE + "test_c3_failed_sign_ins_are_in_the_trail_with_their_time",
        RECORD + "test_c3_every_change_of_state_has_its_entry",
        RECORD + "test_c3_over_a_hundred_thousand_steps",
    ),
    "C4": ("tests/tui/test_export.py::test_c4_another_reader_finds_the_same_heads",),
    "D1": ("tests/tui/test_export.py::test_d1_it_is_verified_without_us",),
    "D2": (
        "tests/record/test_golden.py::test_format_1_verifies_for_ever",
        "tests/record/test_golden_station.py::"
        "test_d2_what_was_recorded_then_is_verified_and_taken_away_now",
    ),
    "D3": (
        PEOPLE + "test_d3_no_step_comes_before_its_turn",
        PEOPLE + "test_d3_an_incomplete_record_is_not_signed",
    ),
    "D4": (PEOPLE + "test_d4_authority_is_asked_at_the_act",),
    "D5": (
        PEOPLE + "test_d5_one_name_one_secret_one_person",
        PEOPLE + "test_d5_accounts_are_reviewed_and_the_review_is_in_the_record",
        PEOPLE + "test_d5_misuse_raises_an_alarm_and_a_lost_secret_is_out_at_once",
    ),
    "D6": (
        RECORD + "test_d6_every_entry_says_which_program_wrote_it",
        RECORD + "test_d6_a_build_is_its_files",
    ),
}
WANTED = [f"{part}{number}" for part, most in zip("ABCD", (4, 6, 4, 6), strict=True)
          for number in range(1, most + 1)]  # fmt: skip


@cache
def names_in(path: str) -> set[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize("item", WANTED)
def test_every_item_has_a_test(item: str) -> None:
    for name in ITEMS[item]:
        path, _, test = name.partition("::")
        assert test in names_in(path), name


def test_every_item_is_worded_for_developers() -> None:
    rows = re.findall(
        r"^\| ([A-D]\d) \|", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.MULTILINE
    )
    assert rows == WANTED == [*ITEMS]
