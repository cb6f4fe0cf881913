from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from blender.errors import KeyFileError, RecordError, RefusedError
from blender.record import wrapping
from blender.record.keys import (
    DEFAULT_COST,
    Cost,
    Signer,
    StationKeys,
    key_path,
    new_signing_key,
    public_hex,
    unwrap_key,
    wrap_key,
)

CHEAP = Cost(1, 64, 1)
SECRET = b"s" * 32
posix = pytest.mark.skipif(os.name != "posix", reason="file modes are a POSIX matter")


def test_keys_lie_beside_their_database() -> None:
    assert key_path("/var/x.db") == Path("/var/x.keys")


def test_keys_read_back(tmp_path: Path) -> None:
    made = StationKeys.create(tmp_path / "x.keys")
    read = StationKeys.load(tmp_path / "x.keys")
    assert (read.public, read.secret) == (made.public, made.secret)
    assert len(read.secret) == 32
    assert made.secret.hex() not in repr(made)


@posix
@pytest.mark.parametrize("umask", [0o000, 0o022, 0o777])
def test_only_the_owner_can_read_the_key_file(tmp_path: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        StationKeys.create(tmp_path / "x.keys")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "x.keys").stat().st_mode) == 0o600


@posix
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o644])
def test_a_key_file_others_can_read_is_refused(tmp_path: Path, mode: int) -> None:
    StationKeys.create(tmp_path / "x.keys")
    (tmp_path / "x.keys").chmod(mode)
    with pytest.raises(KeyFileError, match="chmod 600"):
        StationKeys.load(tmp_path / "x.keys")


def test_a_key_file_is_never_overwritten(tmp_path: Path) -> None:
    StationKeys.create(tmp_path / "x.keys")
    before = (tmp_path / "x.keys").read_bytes()
    with pytest.raises(KeyFileError, match="exists already"):
        StationKeys.create(tmp_path / "x.keys")
    assert (tmp_path / "x.keys").read_bytes() == before


@posix
def test_a_link_in_the_key_files_place_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "x.keys").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(KeyFileError):
        StationKeys.create(tmp_path / "x.keys")
    assert not (tmp_path / "elsewhere").exists()


def test_a_missing_key_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(KeyFileError, match="missing"):
        StationKeys.load(tmp_path / "x.keys")
    with pytest.raises(KeyFileError):
        StationKeys.load(tmp_path)
    with pytest.raises(KeyFileError):
        StationKeys.create(tmp_path / "no" / "x.keys")


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "null", '{"v":1}', '{"v":1,"seal":"00","secret":"00"}', "\xff",
     '{"v":2,"seal":"' + "00" * 32 + '","secret":"' + "00" * 32 + '"}',
     '{"v":1,"seal":"' + "00" * 32 + '","secret":"' + "00" * 31 + '"}',
     '{"v":1,"seal":"' + "00" * 31 + '","secret":"' + "00" * 32 + '"}',
     '{"v":1,"seal":7,"secret":7}', "[" * 4000],
    ids=lambda text: text[:30],
)  # fmt: skip
def test_a_wrong_key_file_is_refused(tmp_path: Path, text: str) -> None:
    place = tmp_path / "x.keys"
    place.touch(0o600)
    place.write_text(text, encoding="latin-1")
    with pytest.raises(KeyFileError):
        StationKeys.load(place)


def test_a_wrapped_key_opens_with_its_secret_alone() -> None:
    key = new_signing_key()
    wrapped = json.loads(json.dumps(wrap_key(key, "2749 pin", SECRET, CHEAP)))
    assert public_hex(unwrap_key(wrapped, "2749 pin", SECRET)) == public_hex(key)
    assert key.private_bytes_raw().hex() not in json.dumps(wrapped)
    for secret, station in (("2749 pim", SECRET), ("", SECRET), ("2749 pin", b"x" * 32)):
        with pytest.raises(RefusedError):
            unwrap_key(wrapped, secret, station)


def test_the_same_secret_typed_in_two_forms_opens() -> None:
    wrapped = wrap_key(new_signing_key(), "\u00c5se 12", SECRET, CHEAP)
    unwrap_key(wrapped, "A\u030ase 12", SECRET)


def test_two_wrappings_have_nothing_in_common() -> None:
    key = new_signing_key()
    one, two = (wrap_key(key, "a secret", SECRET, CHEAP) for _ in range(2))
    assert not {one[part] for part in ("salt", "nonce", "box")} & set(two.values())


def test_every_part_of_a_wrapped_key_is_bound() -> None:
    wrapped = wrap_key(new_signing_key(), "a secret", SECRET, CHEAP)
    for part, value in wrapped.items():
        other = (
            value + 1 if isinstance(value, int) else ("1" if value[0] == "0" else "0") + value[1:]
        )
        with pytest.raises((RefusedError, RecordError)):
            unwrap_key({**wrapped, part: other}, "a secret", SECRET)
        with pytest.raises((RefusedError, RecordError)):
            unwrap_key({**wrapped, part: None}, "a secret", SECRET)


@pytest.mark.parametrize("cost", [{"memory_kib": 2**40}, {"passes": 10**6}, {"lanes": 0}])
def test_a_cost_that_would_hang_the_terminal_is_damage(cost: dict[str, int]) -> None:
    wrapped = wrap_key(new_signing_key(), "a secret", SECRET, CHEAP)
    with pytest.raises(RecordError):
        unwrap_key({**wrapped, **cost}, "a secret", SECRET)


def test_an_unknown_person_costs_the_same_and_hears_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    costs: list[Cost] = []
    real = wrapping._lock_key

    def counted(secret: str, salt: bytes, station: bytes, cost: Cost) -> bytes:
        costs.append(cost)
        return real(secret, salt, station, CHEAP)

    monkeypatch.setattr(wrapping, "_lock_key", counted)
    wrapped = wrap_key(new_signing_key(), "a secret", SECRET)
    words = []
    for known in (wrapped, None):
        with pytest.raises(RefusedError) as caught:
            unwrap_key(known, "a guess", SECRET)
        words.append((caught.value.text, caught.value.code))
    assert words[0] == words[1]
    assert costs == [DEFAULT_COST] * 3


def test_a_guess_costs_at_least_what_rfc_9106_recommends() -> None:
    # RFC 9106 section 4, second recommended option: t=3, p=4, m=2^16 KiB.
    assert (DEFAULT_COST.passes, DEFAULT_COST.lanes, DEFAULT_COST.memory_kib) == (3, 4, 65536)
    key = new_signing_key()
    assert public_hex(unwrap_key(wrap_key(key, "a", SECRET), "a", SECRET)) == public_hex(key)


def test_a_signer_shows_no_private_key() -> None:
    key = new_signing_key()
    signer = Signer("P-1", "Mira Sund", "manager", key)
    assert signer.key == public_hex(key)
    assert "private" not in repr(signer)
