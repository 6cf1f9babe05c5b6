"""Sealed backups: opened by their key and by no other, and never where a byte was changed, moved or left out."""

import pytest

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store.keeping import is_sealed, new_key, read_key, seal, unseal
from gramrise.store.keeping import sealing as sealing_module


@pytest.fixture
def key(tmp_path):
    new_key(tmp_path / "key")
    return read_key(tmp_path / "key")


@pytest.fixture
def sealed(tmp_path, key, monkeypatch):
    """A file of five pieces, sealed."""
    monkeypatch.setattr(sealing_module, "PIECE_BYTES", 1000)
    (tmp_path / "plain").write_bytes(bytes(range(250)) * 18)
    seal(tmp_path / "plain", tmp_path / "sealed", key)
    return tmp_path / "sealed"


def test_what_was_sealed_comes_back_to_the_last_byte_and_cannot_be_read_before(tmp_path, key, sealed):
    assert is_sealed(sealed)
    assert not is_sealed(tmp_path / "plain")
    assert bytes(range(50, 80)) not in sealed.read_bytes()
    assert sealed.stat().st_mode & 0o077 == 0
    unseal(sealed, tmp_path / "opened", key)
    assert (tmp_path / "opened").read_bytes() == (tmp_path / "plain").read_bytes()


@pytest.mark.parametrize("size", [0, 999, 1000, 1001, 2000])
def test_files_of_any_length_come_back(tmp_path, key, monkeypatch, size):
    monkeypatch.setattr(sealing_module, "PIECE_BYTES", 1000)
    (tmp_path / "plain").write_bytes(b"x" * size)
    seal(tmp_path / "plain", tmp_path / "sealed", key)
    unseal(tmp_path / "sealed", tmp_path / "opened", key)
    assert (tmp_path / "opened").read_bytes() == b"x" * size


def lines_of(file):
    first, *tokens = file.read_bytes().splitlines(keepends=True)
    return first, tokens


@pytest.mark.parametrize(
    "change",
    [
        lambda tokens: tokens[:-1],
        lambda tokens: tokens[1:],
        lambda tokens: [tokens[1], tokens[0], *tokens[2:]],
        lambda tokens: [tokens[0], *tokens],
        lambda tokens: [*tokens, tokens[-1]],
        lambda _tokens: [],
        lambda tokens: [tokens[0][:40] + b"A" + tokens[0][41:], *tokens[1:]],
        lambda tokens: [tokens[0][:-20] + b"\n", *tokens[1:]],
    ],
    ids=["end missing", "start missing", "swapped", "doubled", "end doubled", "empty", "a letter changed", "cut"],
)
def test_a_changed_file_is_refused_and_leaves_nothing_behind(tmp_path, key, sealed, change):
    first, tokens = lines_of(sealed)
    sealed.write_bytes(first + b"".join(change(tokens)))
    with pytest.raises(CouldNotRun, match="cannot be opened") as trouble:
        unseal(sealed, tmp_path / "opened", key)
    assert trouble.value.code == "backup_sealed"
    assert not (tmp_path / "opened").exists()


def test_a_piece_of_another_backup_sealed_with_the_same_key_is_refused(tmp_path, key, sealed):
    seal(tmp_path / "plain", tmp_path / "other", key)
    first, tokens = lines_of(sealed)
    sealed.write_bytes(first + b"".join([tokens[0], lines_of(tmp_path / "other")[1][1], *tokens[2:]]))
    with pytest.raises(CouldNotRun):
        unseal(sealed, tmp_path / "opened", key)


def test_another_key_does_not_open_it(tmp_path, sealed):
    new_key(tmp_path / "another")
    with pytest.raises(CouldNotRun, match="another key"):
        unseal(sealed, tmp_path / "opened", read_key(tmp_path / "another"))


def test_a_key_is_never_overwritten_and_must_be_its_owners_alone(tmp_path):
    new_key(tmp_path / "key")
    with pytest.raises(WrongUse, match="there already"):
        new_key(tmp_path / "key")
    (tmp_path / "key").chmod(0o644)
    with pytest.raises(WrongUse, match="others can read"):
        read_key(tmp_path / "key")
    (tmp_path / "no key").write_text("secret")
    (tmp_path / "no key").chmod(0o600)
    with pytest.raises(WrongUse, match="holds no key"):
        read_key(tmp_path / "no key")
    with pytest.raises(WrongUse, match="cannot be read"):
        read_key(tmp_path / "nowhere")
