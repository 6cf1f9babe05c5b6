"""Each refusal of a PostgreSQL server has its own words and says how to mend it."""

import psycopg
import pytest

from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store import Store
from gramrise.store.postgres.trouble_words import trouble_of_server

CODES = {
    psycopg.errors.DiskFull: "disk_full",
    psycopg.errors.TooManyConnections: "server_crowded",
    psycopg.errors.LockNotAvailable: "database_locked",
    psycopg.errors.DeadlockDetected: "database_locked",
    psycopg.errors.AdminShutdown: "server_gone",
    psycopg.errors.CannotConnectNow: "server_gone",
    psycopg.errors.ConnectionFailure: "server_gone",
    psycopg.errors.InvalidPassword: "server_refused",
    psycopg.errors.InvalidCatalogName: "no_database",
    psycopg.errors.InsufficientPrivilege: "server_rights",
    psycopg.errors.ReadOnlySqlTransaction: "disk_read_only",
    psycopg.errors.DataCorrupted: "database_damaged",
    psycopg.errors.UndefinedTable: "schema_damaged",
}


@pytest.mark.parametrize(("problem", "code"), CODES.items(), ids=lambda each: getattr(each, "__name__", each))
def test_each_code_of_the_server_has_its_own_name(problem, code):
    trouble = trouble_of_server(problem("secret words"))
    assert trouble.code == code
    assert "secret words" not in str(trouble)
    assert "To mend:" in str(trouble)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("server closed the connection unexpectedly", "server_gone"),
        ("could not extend file: No space left on device", "disk_full"),
        ("FATAL: password authentication failed for user", "server_refused"),
        ("FATAL: sorry, too many clients already", "server_crowded"),
        ('FATAL: database "x" does not exist', "no_database"),
    ],
)
def test_what_has_no_code_is_known_by_its_words(said, code):
    assert trouble_of_server(psycopg.OperationalError(said)).code == code


def test_a_fault_of_ours_is_not_called_a_trouble_of_the_server():
    assert trouble_of_server(psycopg.ProgrammingError("the query has 0 placeholders")) is None
    assert trouble_of_server(psycopg.errors.SyntaxError("at or near")) is None


def test_a_server_that_is_not_there_and_a_database_it_has_not_are_told_apart(tmp_path, postgres_server):
    with pytest.raises(CouldNotRun) as absent:
        Store.open(tmp_path, postgres_server.url("nowhere"))
    assert absent.value.code == "no_database"
    with pytest.raises(CouldNotRun) as silent:
        Store.open(tmp_path, f"postgresql+psycopg://gram@/x?host={tmp_path}")
    assert silent.value.code == "server_gone"
    with pytest.raises(WrongUse, match="cannot be read"):
        Store.open(tmp_path, "postgresql+psycopg://gram@host:port/x")


def test_a_text_with_a_nul_from_a_damaged_file_is_kept_as_the_picture_of_one(tmp_path, postgres_url):
    with Store.open(tmp_path, postgres_url) as store:
        store.runs.note("a\0b", ["c\0d"])
        assert store.runs.noted("a\N{SYMBOL FOR NULL}b") == ["c\0d"]  # in the document it was written as a code
