"""Every field of every form with what no hand types: refused in words or taken, never a fault, and nobody else's."""

import random

import pytest
from support.nightly_home import START, child, doses_csv, readings_csv, settled
from support.page_phone import NOW, phone, token, whose

from gramrise.nightly import take_in_file
from gramrise.web.pages import DOORS

HOSTILE = (
    "", " ", "-1", "0", "1e308", "1e999", "nan", "inf", "-inf", "9" * 400, "1,5", "1.5.5", "0x10", "½", "²", "٣",
    "\x00", "a\x00b", "\ud7ff\U0001f36c", "<script>alert(1)</script>", "' OR 1=1 --", "../../etc/passwd", "x" * 5000,
    "24:00", "02:30", "99:99", "2026-02-30", "9999-12-31", "0001-01-01", "piece:3:tin", "piece:0:tin", "piece:3:other",
    "grams", "grams:5", "grams:-5", "grams:nan", "pieces", "monohydrate", "anhydrous", "accepted", "food", "felt_low",
    "at", "now", "yes", "\u202eright to left", "a\r\nSet-Cookie: x=y", "%00", "{{7*7}}",
)  # fmt: skip
# A form of each kind as a hand fills it: one or two fields of it are hostile at a time.
BOTTLE = {"powder": "monohydrate", "ml": "750"}
PLAIN = {
    "/given": {"amount": "piece:3:tin", "minutes": "0", "at": "02:00", "noticed": "child", "words": "", "waited": "0"},
    "/beside": {"kind": "food", "grams": "20", "text": "bread", "minutes": "5", "at": ""},
    "/undo": {"change": "1"},
    "/cards/gone": {"number": "1"},
    "/stock/counted": {"source": "tin", "amount": "45"},
    "/upload": {"replace": "yes"},
    "/questions": {"answer": "piece:tin", "grams": "5", "sure": "1", "for_all": "no"},
    "/questions/later": {},
    "/count": {"tin": "", "new_tin": "tin", "left": "3", "filled": "9", "source": "tin", "at": "01:00"},
    "/mix": {"name": "", "new_name": "bottle", "grams_in_5_ml": "1.25", **BOTTLE},
    "/mix/logged": {"name": "bottle", "powder_g": "206", "weighed_g": "831", **BOTTLE},
    "/changes": {"change": "1"},
    "/sign": {
        "verdict": "accepted", "by": "Dr. Vogel", "role": "", "as_of": "", "valid_until": "", "settings": "",
        "told": "", "note": "",
    },
    "/sign/withdrawn": {"number": "1"},
}  # fmt: skip
POSTS = [door for door in DOORS if "POST" in door.methods]
ANSWERED = {200, 303, 403, 409, 422}


def filled(store):
    home = store.home
    settled(home)
    store.save_person(child())
    store.save_person(child("tom"))
    for name, text in (("trace.csv", readings_csv(START, 13, 10)), ("bare.csv", "time,glucose given\n" + BARE)):
        (home / name).write_text(text, "utf-8")
        take_in_file(store, home, store.person("mia"), home / name, NOW)
    (home / "tom.csv").write_text(doses_csv(START), "utf-8")
    take_in_file(store, home, store.person("tom"), home / "tom.csv", NOW)


@pytest.fixture
def store(store_like):
    return store_like(filled)


BARE = "2026-03-01T12:00+00:00,3\n"


@pytest.mark.parametrize("door", POSTS, ids=lambda door: door.path)
def test_no_form_filled_by_nobodys_hand_is_a_fault_or_reaches_another_person(store, door):
    role = "clinic" if door.path.startswith("/sign") else "parent"
    client = phone(store, "mia", role=role)
    page = "/0/sign" if role == "clinic" else "/0/"
    sent, chance = token(client, page), random.Random(door.path)
    tom = store.inputs("tom").doses.rows(), store.questions("tom"), store.last_changes("tom")
    asked = str(store.questions("mia")[0].question_id) if store.questions("mia") else "1"
    statuses = set()
    for _ in range(15):
        form = PLAIN[door.path] | {"question": asked, "entry": f"{chance.getrandbits(120):032x}"}
        form |= {name: chance.choice(HOSTILE) for name in chance.sample(sorted(form), chance.randint(1, 2))}
        form |= {"token": sent, "whose": whose(client, page)}
        answer = client.post(f"/0{door.path}", data=form)
        statuses.add(answer.status_code)
        assert "<script>alert" not in answer.text
    assert statuses <= ANSWERED
    assert statuses - {200, 303}, "nothing hostile was refused"
    assert (store.inputs("tom").doses.rows(), store.questions("tom"), store.last_changes("tom")) == tom
    opened = ["/0/panel", "/0/sign"] if role == "clinic" else ["/0/", "/0/more", "/0/changes", "/0/count", "/0/stock"]
    assert {client.get(each).status_code for each in opened} == {200}
