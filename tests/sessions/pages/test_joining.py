"""Codes, tokens and the limit on guessing, without a web."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from sessions.casebook import private_files
from sessions.casebook.store import LOCKS
from sessions.pages import joining, kept_guests
from sessions.pages.joining import FROM_ALL, FROM_ONE, TOO_MANY, WINDOW_S, WRONG, Claim, Guests, Refused, Role


def test_a_code_is_taken_as_people_read_it() -> None:
    guests = Guests("K1P-3Q0")
    assert guests.of(guests.join("listener", " kip3qo ", "phone", 0.0), "listener") is not None


def test_a_token_counts_for_its_own_role_alone_and_for_nothing_once_it_has_ended() -> None:
    guests = Guests()
    token = guests.join("listener", guests.code, "phone", 0.0)
    desk = guests.join("desk", guests.desk_code, "laptop", 0.0)
    assert guests.of(token, "desk") is None
    assert guests.of(desk, "listener") is None
    assert guests.of(token[:-1], "listener") is None
    assert guests.of(None, "listener") is None
    guest = guests.of(token, "listener")
    assert guest is not None
    guests.end(guest)
    assert guests.of(token, "listener") is None


def test_one_code_does_not_open_the_other_door() -> None:
    guests = Guests()
    codes: dict[Role, str] = {
        "listener": guests.code, "desk": guests.desk_code, "assistant": guests.assistant_code
    }  # fmt: skip
    for door, role in product(codes, codes):
        if door != role:
            with pytest.raises(Refused, match=WRONG):
                guests.join(door, codes[role], f"phone {role}", 0.0)


def test_guessing_is_slowed_down_from_one_address_and_from_all_of_them() -> None:
    guests = Guests()
    for _ in range(FROM_ONE):
        with pytest.raises(Refused, match=WRONG):
            guests.join("listener", "no", "phone", 0.0)
    with pytest.raises(Refused, match=TOO_MANY):
        guests.join("listener", guests.code, "phone", WINDOW_S)
    guests.join("listener", guests.code, "another phone", WINDOW_S)
    guests.join("listener", guests.code, "phone", WINDOW_S + 1)
    for number in range(FROM_ALL):
        with pytest.raises(Refused, match=WRONG):
            guests.join("listener", "no", f"phone {number}", 200.0)
    with pytest.raises(Refused, match=TOO_MANY):
        guests.join("listener", guests.code, "a phone of nobody's", 200.0)


def test_codes_and_tokens_are_drawn_at_random_and_long_enough() -> None:
    codes = {joining.new_code(joining.CODE_LENGTH) for _ in range(200)}
    assert len(codes) == 200
    assert all(len(joining.normalised(code)) == 6 for code in codes)
    assert all(joining.normalised(joining.normalised(code)) == joining.normalised(code) for code in codes)
    guests = Guests()
    tokens = {guests.join("listener", guests.code, "phone", 0.0) for _ in range(50)}
    assert len(tokens) == 50
    assert min(map(len, tokens)) >= 43  # 256 bits


def test_guests_are_found_again_after_a_kill_and_no_file_holds_a_token(tmp_path: Path) -> None:
    guests = Guests()
    token = guests.join("listener", guests.code, "phone", 0.0)
    guest = guests.of(token, "listener")
    assert guest is not None
    guest.claim = Claim("evening", "Ada")
    kept_guests.keep(tmp_path, guests)
    path = tmp_path / LOCKS / kept_guests.NAME
    assert token not in path.read_text()
    assert private_files.is_private(path)
    again = kept_guests.found(tmp_path, 5.0)
    assert (again.code, again.desk_code, again.assistant_code) == (guests.code, guests.desk_code, guests.assistant_code)
    found = again.of(token, "listener")
    assert found is not None
    assert found.claim == Claim("evening", "Ada")
    kept_guests.forget(tmp_path)
    assert kept_guests.found(tmp_path, 5.0).of(token, "listener") is None


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"code": "A"'])
def test_a_file_of_guests_that_cannot_be_read_lets_nobody_in(tmp_path: Path, text: str) -> None:
    (tmp_path / LOCKS).mkdir()
    (tmp_path / LOCKS / kept_guests.NAME).write_text(text)
    assert kept_guests.found(tmp_path, 0.0).inside == {}
