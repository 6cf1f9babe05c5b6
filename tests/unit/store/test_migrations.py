"""Tables of every landed step, rows in all of them, brought up to date in a file and on a server: no row is lost."""

import alembic.command
import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import BigInteger, Boolean, Float, Integer, LargeBinary, MetaData, Text, func, insert, select

from gramrise.domain.problems import CouldNotRun
from gramrise.store import NEWEST_STEP, Store, database

# Made again from the inputs by the step that drops them.
MADE_AGAIN = {"findings", "findings_frames", "treatments_kept", "traces"}
TYPED = ((BigInteger, 7), (Integer, 7), (Float, 7.0), (Boolean, True), (LargeBinary, b"7"), (Text, "7"))
ON_A_SERVER = ("0001", "0005", "0007")


def config():
    made = Config()
    made.set_main_option("script_location", str(database.MIGRATIONS))
    return made


STEPS = sorted(each.revision for each in ScriptDirectory.from_config(config()).walk_revisions())


def tables_of_step(engine, step):
    """Makes the tables of a step and puts one row of 'old' into each; the names of the tables."""
    told = config()
    with engine.begin() as connection:
        told.attributes["connection"] = connection
        alembic.command.upgrade(told, step)
    with engine.begin() as connection:
        found = MetaData()
        found.reflect(connection)
        filled = []
        for table in found.sorted_tables:
            if table.name in {"alembic_version", "service"}:
                continue
            connection.execute(insert(table).values({column.name: of_type(column) for column in table.columns}))
            filled.append(table.name)
    return filled


def of_type(column):
    if column.name == "person_id":
        return "old"
    return next(value for kind, value in TYPED if isinstance(column.type, kind))


def counted(store, names):
    found = MetaData()
    with store.reading() as connection:
        found.reflect(connection, only=names)
        chosen = {name: select(func.count()).select_from(found.tables[name]) for name in names}
        return {name: connection.execute(which).scalar_one() for name, which in chosen.items()}


def check(url, step, home):
    engine = database.engine_for(url)
    filled = tables_of_step(engine, step)
    engine.dispose()
    assert {"persons", "readings", "doses"} <= set(filled)
    with Store.open(home) as store:
        with store.reading() as connection:
            assert database.step_of(connection) == NEWEST_STEP
        kept = [name for name in filled if name not in MADE_AGAIN]
        # 0007 lists what was done before as changes: one file and one answer of each.
        expected = {name: 1 if name != "changes" or step >= "0007" else 2 for name in kept}
        assert counted(store, kept) == expected


@pytest.mark.parametrize("step", STEPS)
def test_a_file_of_any_step_loses_no_row_on_its_way_to_the_newest(home, step):
    home.mkdir(mode=0o700)
    check(f"sqlite:///{home / 'gramrise.db'}", step, home)


@pytest.mark.parametrize("step", ON_A_SERVER)
def test_a_server_of_an_early_step_loses_no_row_on_its_way_to_the_newest(home, postgres_server, step):
    url = postgres_server.new_database()
    home.mkdir(mode=0o700)
    (home / "gramrise.toml").write_text(f'database = "{url}"\n')
    check(url, step, home)
    postgres_server.drop(url)


def test_a_machine_not_yet_upgraded_is_told_to_and_changes_nothing(home, postgres_url):
    home.mkdir(mode=0o700)
    (home / "gramrise.toml").write_text(f'database = "{postgres_url}"\n')
    with Store.open(home) as store, store.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    try:
        with pytest.raises(CouldNotRun, match="newer gramrise") as trouble:
            Store.open(home)
        assert trouble.value.code == "schema_newer"
    finally:
        engine = database.engine_for(postgres_url)
        with engine.begin() as connection:
            assert database.step_of(connection) == "9999"
            connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{NEWEST_STEP}'")
        engine.dispose()


def test_every_text_of_a_server_is_in_the_order_of_its_bytes(postgres_url, postgres_server):
    name = postgres_url.split("/")[3].partition("?")[0]
    asked = (
        "SELECT count(*) FROM information_schema.columns WHERE table_schema = 'public' AND data_type = 'text' "
        "AND collation_name IS DISTINCT FROM 'C'"
    )
    assert postgres_server.sql(asked, name) == "0"
    assert postgres_server.sql("SELECT 'a' < 'B'") == "t"  # the server's own order is that of a language
