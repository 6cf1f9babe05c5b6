"""Fifty phones that log at once while a night runs: nothing lost, nothing doubled, and how long an answer takes.

Run: python tests/benchmark/page_phones.py [--phones N] [--entries N] [--persons N]
Each phone waits a moment of its own before every entry, as hands do, and sends every third entry twice.
"""

import argparse
import random
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
from many_persons import home_of

from gramrise.store import Store
from gramrise.web.guard.secrets import hashed

MEDIAN_MS = 100.0
PAUSE_S = 10.0  # on average, between a phone's entries: one of fifty logs five times a second
LIMITS = "[web]\nlet_in_tries_per_minute = 10000\nrequests_per_minute = 10000\n"


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--phones", type=int, default=50)
    options.add_argument("--entries", type=int, default=10)
    options.add_argument("--persons", type=int, default=20)
    asked = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home, _ = home_of(Path(folder), asked.persons, 30)
        with (home / "gramrise.toml").open("a", encoding="utf-8") as kept:
            kept.write(LIMITS)
        with Store.open(home) as store:
            people = [person.person_id for person in store.persons()]
            before = sum(store.inputs(each).doses.height for each in people)
            whose = [people[n % len(people)] for n in range(asked.phones)]
            for n, who in enumerate(whose):
                until = datetime.now(UTC) + timedelta(hours=1)
                store.devices.invite([who], "parent", f"phone {n}", hashed(f"link {n}"), until)
        for name, beside in (("alone", None), ("while a night runs", ["nightly"])):
            seconds, failed, took = attack(home, asked, beside)
            told(name, seconds, failed, took)
        with Store.open(home) as store:
            logged = sum(store.inputs(each).doses.height for each in people) - before
        wanted = 2 * asked.phones * asked.entries
        print(f"entries logged: {logged} of {wanted}, each once / {'holds' if logged == wanted else 'FALLS SHORT'}")


def attack(home, asked, beside):
    """Seconds of each answer, answers that were none, and how long the night took (None without one)."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = [sys.executable, "-m", "gramrise", "--home", str(home)]
    server = subprocess.Popen([*program, "serve", "--port", str(port)], stdout=subprocess.DEVNULL)
    base = f"http://127.0.0.1:{port}"
    wait_for(base)
    night = subprocess.Popen([*program, *beside], stdout=subprocess.DEVNULL) if beside else None
    begun, seconds, failed = time.monotonic(), [], []
    phones = [
        threading.Thread(target=one_phone, args=(base, n, asked.entries, seconds, failed, bool(beside)))
        for n in range(asked.phones)
    ]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    running = night is not None and night.poll() is None
    took = None if night is None else (time.monotonic() - begun, running)
    if night is not None:
        night.wait()
    server.terminate()
    server.wait()
    return seconds, failed, took


def wait_for(base):
    for _ in range(300):
        try:
            httpx.get(base)
        except httpx.HTTPError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit("the page did not start")


SESSIONS = {}


def one_phone(base, number, entries, seconds, failed, again):
    """Lets itself in, then logs; times every answer."""
    chance = random.Random(1000 * again + number)
    with httpx.Client(base_url=base, timeout=60, cookies=SESSIONS.get(number)) as phone:
        if not again:
            phone.post(f"/in/link {number}")
            SESSIONS[number] = dict(phone.cookies)
        shown = phone.get("/0/").text
        token = re.search(r'name="token" value="(\w+)"', shown)[1]
        amount = re.search(r'name="amount" value="([^"]+)"', shown)[1]
        whose = re.search(r'data-whose="(\w+)"', shown)[1]
        for n in range(entries):
            time.sleep(chance.expovariate(1 / PAUSE_S))
            entry = f"{'b' if again else 'a'}{number:015d}{n:016d}"
            form = {"token": token, "whose": whose, "entry": entry, "amount": amount, "minutes": "0", "sure": "1"}
            for _ in range(2 if n % 3 == 0 else 1):
                begun = time.monotonic()
                answer = phone.post("/0/given", data=form, headers={"accept": "application/json"})
                seconds.append(time.monotonic() - begun)
                if answer.status_code != 200:
                    failed.append(answer.text)


def told(name, seconds, failed, took):
    middle, late = 1000 * statistics.median(seconds), 1000 * statistics.quantiles(seconds, n=20)[-1]
    held = "holds" if middle <= MEDIAN_MS else "FALLS SHORT"
    print(f"{name}: {len(seconds)} answers, 19 of 20 in {late:.0f} ms")
    print(f"    median {middle:.0f} ms / bar {MEDIAN_MS:.0f} ms / {held}")
    if took is not None:
        print(f"    phones done after {took[0]:.0f} s, the night {'still running' if took[1] else 'over'}")
    print(f"    answers that were none: {len(failed)} / {'holds' if not failed else 'FALLS SHORT'}")
    for each in failed[:3]:
        print(f"    {each[:200]}", file=sys.stderr)


if __name__ == "__main__":
    main()
