"""The logbook is gone, empty or another beside a fuller copy: the page asks which to go on with."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import needs
import patience
import ready
from plumbstar import kit as kits
from plumbstar.logbook import Logbook, copies, good_copy, keep_copy, set_aside
from plumbstar.logbook.contents import generations
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

from .conftest import keep
from .server_process import Server

pytestmark = pytest.mark.own_page

HERE = Site(lat_deg=47.2, lon_deg=11.6, elevation_m=940.0, name="Thornback Ridge")
EARLIER = Instant.parse("2027-01-20T18:00:00Z")


def begun(path: Path, text: str) -> None:
    with Logbook.open(path) as b:
        n = b.start_outing(HERE, kits.example(), kits.example_text(), EARLIER).id
        b.add_note(n, text, EARLIER)


def noted(path: Path) -> set[str]:
    with Logbook.open(path, create=False) as b:
        return {n.text for o in b.outings() for n in b.notes(o.id)}


def held(path: Path) -> dict[str, bytes]:
    """The files, without those that SQLite puts beside one that is read."""
    found = path.parent.glob(f"{path.name}*")
    return {p.name: p.read_bytes() for p in found if not p.name.endswith(("-wal", "-shm"))}


def gone(path: Path) -> None:
    path.unlink()


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def another(path: Path) -> None:
    good = good_copy(path).rename(path.with_name("away"))
    path.unlink()
    begun(path, "the other")
    good.rename(good_copy(path))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook of three evenings, with its good copy."""
    path = tmp_path / "log.sqlite3"
    for k in range(3):
        begun(path, f"note {k}")
    with Logbook.open(path) as b:
        keep_copy(b)
    return path


def up(server: Server) -> dict[str, Any]:
    """The evening's state, once it is up."""
    until = time.monotonic() + patience.SECONDS
    while time.monotonic() < until:
        try:
            status, answer = server.ask("/data/state")
        except OSError:
            status = 0
        if status == 200:
            return answer
        time.sleep(0.05)
    raise AssertionError("the evening never came up")


def recover(path: Path, *options: str) -> str:
    done = ready.run(ready.PROGRAM, "log", "recover", "--logbook", str(path), *options)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize(
    ("harm", "what"),
    [(gone, "is gone"), (emptied, "is empty"), (another, "lacks what")],
)
@pytest.mark.parametrize("bring_back", [True, False])
def test_the_page_asks_once_and_nothing_is_replaced_before(
    server: Server, path: Path, harm: Callable[[Path], None], what: str, bring_back: bool
) -> None:
    harm(path)
    before = held(path)
    server.start()
    status, asked = server.ask("/data/missing-book")
    assert status == 200
    assert what in asked["what"]
    assert "3 outings with 0 sightings" in asked["copy"]
    # A page that is still open from before is told so, and a tap on it stays on the phone.
    assert server.ask("/data/version")[0] == 409
    assert server.ask("/do/sight", {"star": "Capella", "id": "press-0001"})[0] == 503
    assert held(path) == before
    assert server.ask("/do/answer_book", {})[0] == 400
    answer = server.do("answer_book", bring_back=bring_back)
    up(server)
    mine = {"the other"} if harm is another else set()
    old = {f"note {k}" for k in range(3)}
    assert noted(path) == (old | mine if bring_back else mine)
    kept = list(path.parent.glob("*-kept-*"))
    assert [p.name in answer["said"] for p in kept] == ([] if bring_back else [True])
    assert ("3 outings" if harm is not another else "4 outings") in answer["said"] or kept
    assert all(noted(p) == old for p in kept)
    code, _, err = server.stop()
    assert code == -signal.SIGTERM
    assert f"The logbook {path} " in err
    assert "3 outings with 0 sightings" in err
    assert f"plumbstar log recover --logbook {path}" in err
    assert answer["said"] in err  # the terminal says what the page said
    assert "Traceback" not in err
    # The next start has nothing to ask.
    server.start()
    up(server)


@pytest.mark.parametrize("bring_back", [True, False])
def test_a_damaged_copy_is_told_and_what_can_be_read_of_it_offered(
    server: Server, path: Path, bring_back: bool
) -> None:
    with Logbook.open(path) as b:
        for k in range(40):
            b.add_note(1, f"{k} " + "x" * 3000, EARLIER)
        keep_copy(b)
    path.unlink()
    raw = bytearray(good_copy(path).read_bytes())
    for k in range(len(raw) - 9000, len(raw) - 3000):
        raw[k] ^= 0x55
    good_copy(path).write_bytes(raw)
    server.start()
    asked = server.ask("/data/missing-book")[1]
    assert "its good copy is damaged" in asked["what"]
    said = server.do("answer_book", bring_back=bring_back)["said"]
    up(server)
    assert (len(noted(path)) >= 30) == bring_back
    (kept,) = path.parent.glob("*-kept-*")
    assert kept.name in said
    assert kept.read_bytes() == bytes(raw)


def test_killed_and_started_again_it_asks_again(server: Server, path: Path) -> None:
    path.unlink()
    server.start()
    first = server.ask("/data/missing-book")
    server.kill()
    assert not path.exists()
    server.start()
    assert server.ask("/data/missing-book") == first
    server.stop(signal.SIGINT)
    assert not path.exists()
    assert noted(good_copy(path)) == {"note 0", "note 1", "note 2"}


@pytest.mark.parametrize("options", [(), ("--go-on-without",)])
def test_answered_at_the_terminal_the_page_comes_up_with_that(
    server: Server, path: Path, options: tuple[str, ...]
) -> None:
    path.unlink()
    server.start()
    assert server.ask("/data/missing-book")[0] == 200
    recover(path, *options)
    up(server)  # without a press on any phone
    # A late press on a page that has not noticed changes nothing.
    assert server.ask("/do/answer_book", {"bring_back": not options})[0] == 404
    assert noted(path) == (set() if options else {"note 0", "note 1", "note 2"})
    assert "answered at the command line" in server.stop()[2]


def test_two_phones_answer_otherwise_and_the_first_counts(server: Server, path: Path) -> None:
    path.unlink()
    server.start()
    first = server.do("answer_book", bring_back=False)
    try:
        status, second = server.ask("/do/answer_book", {"bring_back": True})
    except OSError:
        status = 0  # the question's end
    assert status in (0, 404) or second == first
    up(server)
    assert noted(path) == set()


def test_cut_off_while_copies_are_set_aside_the_last_one_is_asked_about(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good_copy(path).with_name(f"{good_copy(path).name}-old").write_bytes(path.read_bytes())
    path.unlink()
    real, moved = copies.put, []

    def cut(fresh: Path, place: Path) -> None:
        if moved:
            raise KeyboardInterrupt
        moved.append(fresh)
        real(fresh, place)

    monkeypatch.setattr(copies, "put", cut)
    with pytest.raises(KeyboardInterrupt):
        set_aside(path)
    assert good_copy(path).exists()
    assert generations(path) == []


@pytest.mark.parametrize("dress", ["night", "day"])
def test_on_the_phone(server: Server, path: Path, phone: Any, dress: str) -> None:
    expect = needs.module("playwright.sync_api").expect
    path.unlink()
    server.start()
    url = f"http://127.0.0.1:{server.port}/"
    phone.add_init_script(
        "localStorage.getItem('plumbstar.dress') ||"
        f" localStorage.setItem('plumbstar.dress', JSON.stringify({{dress: '{dress}'}}))"
    )
    phone.goto(url)
    expect(phone.locator("#what")).to_have_text("The logbook is gone. There is a good copy of it.")
    keep(phone, f"missing-book-{dress}")
    yes, no = phone.locator("#bring-back"), phone.locator("#go-on-without")
    assert phone.locator("button").count() == 2
    assert yes.bounding_box()["height"] > no.bounding_box()["height"] >= 56
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    (yes if dress == "night" else no).tap()
    expect(phone.locator("nav")).to_be_visible()  # the evening's pages
    assert noted(path) == ({"note 0", "note 1", "note 2"} if dress == "night" else set())
    keep(phone, f"missing-book-after-{dress}")


def test_a_page_open_from_before_comes_to_the_question_and_back(
    server: Server, path: Path, phone: Any
) -> None:
    expect = needs.module("playwright.sync_api").expect
    server.start()
    phone.goto(f"http://127.0.0.1:{server.port}/")
    expect(phone.locator("nav")).to_be_visible()
    server.stop()
    for p in path.parent.glob(f"{path.name}*"):
        if not p.name.startswith(good_copy(path).name):
            p.unlink()
    server.start()
    until = time.monotonic() + patience.SECONDS
    while phone.locator("#what").count() == 0 and time.monotonic() < until:
        phone.evaluate("dispatchEvent(new Event('online'))")  # it calls again at once
        phone.wait_for_timeout(200)
    server.kill()
    server.start()
    phone.locator("#bring-back").tap()
    expect(phone.locator("nav")).to_be_visible()
    assert noted(path) == {"note 0", "note 1", "note 2"}
