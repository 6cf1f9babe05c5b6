"""Two children with a week of logs, and everything a night leaves behind, in a form that can be compared."""

import random
import shutil
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.store import Store

SUNDAY = datetime(2026, 3, 8, 23, 30, tzinfo=UTC)  # past 18:00 in Berlin and in Chicago
ZONES = {"mia": "Europe/Berlin", "tom": "America/Chicago"}
SETTINGS = """
[nightly]
rest_seconds = 0
[nightly.recipients]
mia = [{ address = "mia@example.org" }]
tom = [{ address = "tom@example.org" }]
"""


def child(person_id):
    tin = Source("tin", Form.TABLET, 4.0, stated_as=StatedAs.ANHYDROUS)
    zone = Dated(((date(2016, 5, 1), ZoneInfo(ZONES[person_id])),))
    weights = Dated(((date(2026, 1, 10), 32.0),))
    return Person(
        person_id,
        date(2016, 5, 1),
        zone,
        weights_kg=weights,
        sources=Dated(((date(2026, 1, 1), (tin,)),)),
    )


def make_home(home, smtp="", days=7):
    """A home with both children and a week of readings, doses and a broken row in their inboxes."""
    home.mkdir(mode=0o700, parents=True)
    (home / "gramrise.toml").write_text(SETTINGS + smtp, encoding="utf-8")
    with Store.open(home) as store:
        store.runs.home_mark()  # made now, so that copies of this home write the same message ids
        for number, person_id in enumerate(ZONES):
            store.save_person(child(person_id))
            folder = home / "inbox" / person_id
            folder.mkdir(parents=True)
            readings, doses = _logs(number, days)
            (folder / "readings.csv").write_text(readings, encoding="utf-8")
            (folder / "given.csv").write_text(doses, encoding="utf-8")
    return home


def _logs(seed, days):
    draw = random.Random(seed)
    start = SUNDAY - timedelta(days=days)
    readings, doses = ["time,glucose (mg/dL)"], ["time,source,amount"]
    for i in range(days * 288 - 12):
        at = start + timedelta(minutes=5 * i)
        since = (i + 40 * seed) % 156  # a fall every 13 hours, treated a quarter of an hour after it crosses 70
        falling = 110 - 3.2 * since if since < 19 else 50 + 2.1 * (since - 19) if since < 50 else 112
        if since == 16:
            doses.append(f"{at:%Y-%m-%dT%H:%M}+00:00,tin,{draw.choice([2, 3])} pieces")
        readings.append(f"{at:%Y-%m-%dT%H:%M}+00:00,{falling + draw.gauss(0, 2):.0f}")
    readings.append("2026-03-08T23:00+00:00,many")
    return "\n".join(readings) + "\n", "\n".join(doses) + "\n"


def copy_of(home, to):
    shutil.copytree(home, to)
    return to


def state_of(home):
    """Everything a night leaves: inputs, ledger, quarantine, questions, findings, letters, where the files lie."""
    found = {}
    with Store.open(home) as store:
        for person in store.persons():
            who = person.person_id
            inputs, findings = store.inputs(who), store.findings(who)
            found[who] = {
                **{name: getattr(inputs, name).rows() for name in ("readings", "fingers", "doses", "events")},
                **{name: getattr(findings, name).rows() for name in ("lows", "treatments", "pairings", "paths")},
                **{name: getattr(findings, name).rows() for name in ("factors", "predictions")},
                "person": person,
                "corrections": store.corrections(who),
                "conflicts": store.conflicts(who),
                "questions": [each.question.key for each in store.questions(who, only_open=False)],
                "shown": [frame.rows() for frame in store.shown(who)],
                "inbox": sorted(str(f.relative_to(home)) for f in (home / "inbox" / who).rglob("*") if f.is_file()),
            }
        found["imports"] = sorted(
            (each["person_id"], each["file"], each["added"], each["corrected"], each["quarantined"])
            for each in store.imports()
        )
        found["quarantine"] = sorted((who, held.trouble.sentence) for who, held in store.quarantine())
        found["letters"] = sorted((each.message_id, each.state, each.for_on) for each in store.outbox.all())
    found["mail files"] = sorted(file.name for file in (home / "outbox").glob("*"))
    return found
