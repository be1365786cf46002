"""The page for many tags, tags in a picture, and what a device keeps for times offline."""

from __future__ import annotations

import html
import math
import re
import tempfile
import uuid
from io import BytesIO
from typing import Any

import pytest
import segno
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from production.models import Jacket, StageEvent, Tap
from production.scanning import tag_pictures
from production.tracking import record
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db

CODES = ("TO-1-01", "TO-1-02", "TO-1-03")


@pytest.fixture
def ana(client):
    make_run(jackets=3)
    person = make_person("ana")
    client.force_login(person)
    return person


def scan(client: Client, codes: str, step: str = "done:cut", **more: str):
    form = {"step": step, "codes": codes, "tap_key": str(uuid.uuid4()), **more}
    return client.post(reverse("production:scan"), form)


def text_of(response) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return html.unescape(re.sub(r"\s+", " ", words))


def stages() -> list[str]:
    return list(Jacket.objects.order_by("code").values_list("stage", flat=True))


# --- Without a script --------------------------------------------------------------------------


def test_a_list_of_tags_is_recorded_and_told_one_by_one(client, ana):
    codes = "TO-1-01\r\nhttps://h/j/to-1-02/\r\n\r\nX-9\r\nTO-1-01"
    page = text_of(scan(client, codes, vouch="on"))
    assert "2 of 4 recorded" in page
    assert "No jacket has the code 'X-9'" in page and "was recorded already" in page
    assert stages() == ["sew", "sew", "cut"]
    outcomes = Tap.objects.order_by("pk").values_list("outcome", "way")
    assert list(outcomes) == [
        ("recorded", "batch"),
        ("recorded", "batch"),
        ("unknown", "batch"),
        ("repeated", "batch"),
    ]


def test_the_same_list_sent_twice_counts_once(client, ana):
    form = {"step": "next", "vouch": "on", "codes": "TO-1-01\nTO-1-01\nTO-1-02"}
    form["tap_key"] = str(uuid.uuid4())
    for _ in range(2):
        assert "2 of 3 recorded" in text_of(client.post(reverse("production:scan"), form))
    assert stages() == ["sew", "sew", "cut"] and Tap.objects.count() == 3


def test_the_box_about_blocks_vouches_for_nothing_later(client, ana, monkeypatch):
    asked = []

    def note(*arguments, vouch, **_):
        asked.append((arguments[1], vouch))

    monkeypatch.setattr("production.stages.gates.before_done", note)
    scan(client, CODES[0], vouch="on")
    scan(client, CODES[1])
    scan(client, CODES[0], "done:sew", vouch="on")
    scan(client, CODES[1], "next", vouch="on")  # within two minutes of its cutting: no next step
    scan(client, CODES[2], "next", vouch="on")
    assert asked == [("cut", True), ("cut", False), ("sew", False), ("cut", True)]


def test_an_undo_stands_by_each_that_was_recorded(client, ana):
    page = scan(client, "TO-1-01\nX-9", vouch="on").content.decode()
    event = StageEvent.objects.get()
    assert page.count('aria-label="Undo ') == 1
    assert f'name="undoes" value="{event.pk}"' in page
    step = {"action": "undo", "stage": "cut", "undoes": event.pk}
    client.post(reverse("production:record", args=[CODES[0]]), step)
    assert stages() == ["cut"] * 3


@pytest.mark.parametrize(
    ("codes", "words"),
    [("", "Scan or type at least one tag."), ("X\n" * 201, "record at most 200 at once")],
)
def test_no_tags_and_too_many_are_told(client, ana, codes, words):
    assert words in text_of(scan(client, codes))
    assert not Tap.objects.exists()


def test_a_page_of_one_run_refuses_the_tags_of_another(client, ana):
    record(CODES[0], "done", "cut", ana)
    Jacket.objects.filter(code=CODES[1]).update(run=make_other_run())
    page = client.get(reverse("production:scan"), {"run": "R-0001"})
    assert "Scan tags of R-0001" in text_of(page)
    said = text_of(scan(client, "TO-1-02", run="R-0001"))
    assert "TO-1-02 is of run R-0002; this page takes the tags of R-0001" in said
    assert client.get(reverse("production:scan"), {"run": "R-7"}).status_code == 404


def make_other_run():
    run = Jacket.objects.first().run
    run.pk, run.code = None, "R-0002"
    run.save()
    return run


def test_a_stranger_is_asked_to_log_in(db, client):
    for name in ("scan", "read_picture"):
        assert client.post(reverse(f"production:{name}")).status_code == 302


# --- A picture ---------------------------------------------------------------------------------


def picture_of(*texts: str, edge: int = 330, turned: float = 0, kind: str = "JPEG") -> bytes:
    """QR codes side by side on a gray table, as a phone would see them."""
    table = Image.new("L", (edge * len(texts), edge), 190)
    for number, text in enumerate(texts):
        written = BytesIO()
        segno.make(text, error="m", micro=False).save(written, kind="png", scale=8, border=4)
        code = Image.open(written).convert("L").rotate(turned, expand=True, fillcolor=190)
        table.paste(code.resize((edge - 20, edge - 20)), (number * edge + 10, 10))
    content = BytesIO()
    table.save(content, kind, quality=70)
    return content.getvalue()


def send_picture(client: Client, content: bytes, *, json: bool = True, name: str = "tags.jpg"):
    headers = {"Accept": "application/json" if json else "text/html"}
    upload = SimpleUploadedFile(name, content, "image/jpeg")
    return client.post(reverse("production:read_picture"), {"picture": upload}, headers=headers)


@pytest.mark.parametrize("turned", [0, 17, 90])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_tag_in_a_picture_is_read(client, ana, turned, kind):
    addresses = [f"https://muster.example/j/{code}/" for code in CODES]
    response = send_picture(client, picture_of(*addresses, turned=turned, kind=kind))
    assert response.json() == {"codes": addresses}


def test_without_a_script_the_codes_stand_in_the_form_and_nothing_is_recorded(client, ana):
    page = send_picture(client, picture_of(*CODES), json=False).content.decode()
    assert "TO-1-01\nTO-1-02\nTO-1-03</textarea>" in page
    assert not Tap.objects.exists()


def test_a_large_picture_is_never_written_to_the_disk(client, ana, monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("a file was made")

    monkeypatch.setattr(tempfile, "NamedTemporaryFile", refuse)
    content = picture_of(*CODES, kind="PNG") + b"\0" * (3 * 2**20)
    assert send_picture(client, content).json() == {"codes": list(CODES)}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"no picture", "no picture that can be read"),
        (b"", "no picture that can be read"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 99, "no picture that can be read"),
        (picture_of(*CODES)[:900], "no picture that can be read"),
    ],
)
def test_what_is_no_picture_is_told(client, ana, content, words):
    response = send_picture(client, content)
    assert response.status_code == 400 and words in response.json()["words"]


def test_a_picture_without_a_tag_is_told(client, ana):
    blank = BytesIO()
    Image.new("L", (400, 300), 200).save(blank, "JPEG")
    assert "No tag was found" in send_picture(client, blank.getvalue()).json()["words"]
    assert "No picture came" in text_of(client.post(reverse("production:read_picture")))


def test_a_picture_beyond_the_limit_is_told_and_not_read(client, ana, monkeypatch):
    content = picture_of(*CODES)
    monkeypatch.setattr(tag_pictures, "MOST_BYTES", len(content) - 1)
    assert "MB; take it with fewer pixels" in send_picture(client, content).json()["words"]
    monkeypatch.undo()
    monkeypatch.setattr(tag_pictures, "MOST_PIXELS", 330 * 330)
    assert "too many pixels" in send_picture(client, content).json()["words"]


def test_a_picture_from_another_site_is_turned_away(ana):
    client = Client(enforce_csrf_checks=True)
    client.force_login(ana)
    assert send_picture(client, picture_of(*CODES)).status_code == 403


def test_ten_tags_of_a_phone_picture_are_read():
    """As large as phones take them (12 MP), with the tags as small as on two sheets side by side:
    a symbol of 26 mm on 420 mm is a sixteenth of the picture's width."""
    addresses = [f"https://muster.example/j/TQ-SPRING-{number:02d}/" for number in range(10)]
    picture = Image.new("L", (4000, 3000), 180)
    for number, address in enumerate(addresses):
        code = Image.open(BytesIO(picture_of(address, turned=3 * number)))
        code = code.resize((math.ceil(4000 / 13),) * 2)
        picture.paste(code, (200 + number % 4 * 900, 150 + number // 4 * 950))
    content = BytesIO()
    picture.save(content, "JPEG", quality=80)
    upload = SimpleUploadedFile("tags.jpg", content.getvalue(), "image/jpeg")
    assert sorted(tag_pictures.tags_in(upload)) == addresses


# --- Offline -----------------------------------------------------------------------------------


def test_what_a_device_keeps_is_of_nobody_and_needs_no_log_in(client, ana):
    for browser in (client, Client()):
        page = browser.get(reverse("production:scan_offline"))
        assert page.status_code == 200
        assert "ana" not in page.content.decode() and "csrf" not in page.content.decode()
        script = browser.get(reverse("production:taps_worker"))
        assert script["Content-Type"] == "text/javascript"
        files = re.findall(r'^  "([^"]+)",$', script.content.decode(), re.MULTILINE)
        names = [file.encode().decode("unicode_escape") for file in files]
        assert names and all(name.startswith("/static/") for name in names)
        assert "/static/production/taps_send.js" in names
        assert reverse("production:taps_worker").count("/") == 1  # at the root: for all tags


# --- Tags printed again ------------------------------------------------------------------------


def tags(client: Client, **query: Any):
    return client.get(reverse("production:bundle_tags_pdf", args=["R-0001"]), query, follow=True)


def printed(response) -> list[str]:
    from pypdf import PdfReader

    content = b"".join(response.streaming_content)
    return [page.extract_text() for page in PdfReader(BytesIO(content)).pages]


def test_the_workroom_says_on_which_paper_tags_are_printed_unless_asked_otherwise(client, ana):
    from patterns.models import Workroom

    assert len(printed(tags(client))) == 1
    Workroom.objects.update_or_create(pk=1, defaults={"tag_paper": "label"})
    assert len(printed(tags(client))) == 3
    assert len(printed(tags(client, paper="letter"))) == 1


def test_the_tag_of_one_jacket_is_printed_again(client, ana):
    [page] = printed(tags(client, jacket=["TO-1-02"], paper="label"))
    assert "TO-1-02" in page and "TO-1-01" not in page
    both = printed(tags(client, jacket=["TO-1-03", "TO-1-01"], paper="label"))
    assert [code in page for code, page in zip(("TO-1-01", "TO-1-03"), both, strict=True)]


def test_a_tag_that_cannot_be_printed_is_told(client, ana):
    Jacket.objects.filter(code="TO-1-02").update(cancelled_at="2027-01-01T10:00:00Z")
    for query, words in (
        ({"jacket": "X-1"}, "No jacket 'X-1' is in run R-0001"),
        ({"jacket": ""}, "No jacket '' is in run R-0001"),
        ({"jacket": "TO-1-02"}, "TO-1-02 was cancelled, so it has no tag"),
        ({"paper": "silk"}, "not on 'silk'"),
    ):
        assert words in text_of(tags(client, **query))


def test_a_changed_jacket_has_the_tag_of_its_last_change(client, db):
    from production.changing.changes import change_after_freeze
    from tests.production.change_factories import facts, make_frozen_run

    run = make_frozen_run(3)
    client.force_login(make_person("ana"))
    jacket = run.jackets.get(code="TO-1-01")
    change_after_freeze(jacket, facts(jacket.jacket_order, size="M"), None)
    pages = printed(tags(client, jacket=["TO-1-01", "TO-1-02"], paper="label"))
    assert "TO-1-02" in pages[0]
    assert "TO-1-01" in pages[1] and re.search(r"^M$", pages[1], re.MULTILINE)
