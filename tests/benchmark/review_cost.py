"""What the clinic review costs: a panel of 200 families with all their pages, and of 1,000.

Run: python tests/benchmark/review_cost.py [--thousand]

One invented family is found and signed once, and reviewed so many times; inputs and findings are read from a store each
time, and drift is computed, as the command does. Bar: 200 families under 60 s.
"""

import argparse
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

import tests_on_path  # noqa: F401 - support and virtual lie in tests

from gramrise.cli.demonstration import read_families
from gramrise.nightly import SignOff, run_person, sign_reference, take_in_file, write_review
from gramrise.store import Store

BAR_SECONDS = 60.0
FAMILIES = 200
SAMPLES = Path(__file__).resolve().parents[2] / "sample_exports"


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--thousand", action="store_true", help="review 1,000 families, too")
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "home") as store:
        home = Path(folder) / "home"
        family = read_families(SAMPLES)[0]
        person = family.person
        store.save_person(person)
        for file in family.files:
            take_in_file(store, home, person, file, datetime.now(UTC))
        last = store.last_reading_at(person.person_id)
        assert last is not None
        now = last + timedelta(hours=1)
        run_person(store, person.person_id, now, home)
        signed = SignOff("Dr. A. Example", as_of=now.date() - timedelta(days=35))
        sign_reference(store, person.person_id, signed, now, home)
        write_review(store, [person], now, home, Path(folder) / "warm")
        for count in (FAMILIES, *((1000,) if asked.parse_args().thousand else ())):
            started = process_time()
            people = [replace(person, name=f"Family {number}") for number in range(count)]
            write_review(store, people, now, home, Path(folder) / "out")
            took = process_time() - started
            held = "holds" if took < BAR_SECONDS else "FALLS SHORT"
            bar = f" / bar {BAR_SECONDS:g} s / {held}" if count == FAMILIES else ""
            print(f"review of {count} families, {took / count:.3f} s each: {took:.1f} s CPU{bar}", flush=True)


if __name__ == "__main__":
    main()
