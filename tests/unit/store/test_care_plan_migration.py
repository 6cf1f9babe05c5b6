"""A home from before the care plans had a table of their own: its plans come along, its cards are out."""

import json

from sqlalchemy import create_engine, text

from gramrise.store import Store, database


def test_plans_kept_as_dated_facts_become_versions_and_old_cards_are_out(tmp_path):
    from alembic import command
    from alembic.config import Config

    database.make_home(tmp_path)
    path = tmp_path / database.DATABASE_FILE
    database.make_file(path)
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        config = Config()
        config.set_main_option("script_location", str(database.MIGRATIONS))
        config.attributes["connection"] = connection
        command.upgrade(config, "0005")
        old = {
            "below_54_grams": 10.0, "most_grams": 15.0, "early_grams_allowed": True, "card_with_automated": True,
            "contacts": ["Oma 0123"], "glucagon_where": "red bag", "approved_by": "Dr. A", "approved_on": "2026-01-05",
        }  # fmt: skip
        connection.execute(
            text("INSERT INTO persons (person_id, born, unit, name, sex, language, starting_table, inputs_version)"
                 " VALUES ('mia', '2016-01-01', 'mg/dL', '', '', 'en', 'taught', 0)")
        )  # fmt: skip
        for fact, day, value in (
            ("zone", "2016-01-01", "Europe/Berlin"),
            ("care_plan", "2026-01-05", old),
            ("care_plan", "2026-02-05", old | {"below_54_grams": 12.0, "approved_on": None}),
        ):
            connection.execute(
                text("INSERT INTO person_facts VALUES ('mia', :fact, :day, :value)"),
                {"fact": fact, "day": day, "value": json.dumps(value)},
            )
        connection.execute(text("INSERT INTO cards VALUES ('mia', 1, 'tin', 0, 0, '2026-04-01', '{}')"))
    engine.dispose()
    with Store.open(tmp_path) as store:
        plans = store.person("mia").care_plan
        assert [plan.below_54_grams for _, plan in plans.entries] == [10.0, 12.0]
        first = plans.entries[0][1]
        assert (first.contacts, first.standard_grams, first.automated_grams) == (("Oma 0123",), None, None)
        assert [card.gone_on for card in store.cards_of("mia")] == [None]
