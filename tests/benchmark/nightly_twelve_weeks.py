"""The sample families under the schedule in accelerated time, every night of it: twelve reports a family by real SMTP.

Run: python tests/benchmark/nightly_twelve_weeks.py
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import tempfile
from collections import Counter
from datetime import timedelta
from pathlib import Path
from time import perf_counter

import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.mail_server import PASSWORD, mail_server
from support.twelve_weeks import SAMPLES, SETTINGS, WEEKS, live

from gramrise.cli.demonstration import read_families
from gramrise.nightly.mail.password import VARIABLE


def main() -> None:
    os.environ[VARIABLE] = PASSWORD
    begun = perf_counter()
    with tempfile.TemporaryDirectory() as folder, mail_server(Path(folder)) as (post, smtp):
        home = Path(folder) / "home"
        home.mkdir(mode=0o700)
        (home / "gramrise.toml").write_text(SETTINGS + smtp, encoding="utf-8")
        live(home, read_families(SAMPLES), timedelta(days=1))
        got = Counter(mail["To"] for mail in post.mails)
        ids = len(set(post.ids))
    each = sorted(got.values())
    verdict = "holds" if each == [WEEKS, WEEKS] and ids == 2 * WEEKS else "FALLS SHORT"
    print(f"{perf_counter() - begun:.0f} s for {WEEKS} weeks; {sum(each)} mails with {ids} message ids: {dict(got)}")
    print(f"reports delivered a family: {each} / bar {WEEKS} each, once / {verdict}")


if __name__ == "__main__":
    main()
