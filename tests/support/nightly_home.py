"""Homes for the tests of the service: children in given zones, small logs in their inboxes, no rest for files."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.nightly.settings import nightly_settings

SETTINGS = """
[nightly]
rest_seconds = 0
night_at = "05:30"
look_every_minutes = 60
{more}
[nightly.recipients]
mia = [{{ address = "mia@example.org" }}, {{ address = "clinic@example.org", role = "clinic" }}]
tom = [{{ address = "tom@example.org" }}]
"""
START = datetime(2026, 3, 1, 12, tzinfo=UTC)


def child(person_id="mia", zone="Europe/Berlin", born=date(2016, 5, 1)):
    tin = Source("tin", Form.TABLET, 4.0, stated_as=StatedAs.ANHYDROUS)
    return Person(
        person_id,
        born,
        Dated(((born, ZoneInfo(zone)),)),
        weights_kg=Dated(((date(2026, 1, 10), 32.0),)),
        sources=Dated(((date(2026, 1, 1), (tin,)),)),
    )


def settled(home, more=""):
    """Writes the home's gramrise.toml and reads it."""
    home.mkdir(parents=True, exist_ok=True, mode=0o700)
    (home / "gramrise.toml").write_text(SETTINGS.format(more=more), encoding="utf-8")
    return nightly_settings(home)


def readings_csv(start, hours, low_at=None):
    """A trace of 5-minute readings with offsets, in mg/dL; from `low_at` hours on a low of forty minutes."""
    lines = ["time,glucose (mg/dL)"]
    for i in range(int(hours * 12)):
        at = start + timedelta(minutes=5 * i)
        value = 110 + (i * 7) % 9
        if low_at is not None and 0 <= i - low_at * 12 < 8:
            value = 62
        lines.append(f"{at:%Y-%m-%dT%H:%M}+00:00,{value}")
    return "\n".join(lines) + "\n"


def doses_csv(*at):
    return "time,source,amount\n" + "".join(f"{each:%Y-%m-%dT%H:%M}+00:00,tin,3 pieces\n" for each in at)


def drop(home, person_id, name, text):
    """Puts a file into a person's inbox."""
    folder = home / "inbox" / person_id
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name
