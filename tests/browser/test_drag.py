"""The picture under the hand: dragged by mouse and finger, turned by keys, without network, and taken back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from setups.models import Setting
from setups.verbs.cards import open_card
from setups.verbs.readings import take_readings
from shops.access import everywhere
from shops.trail import Actor
from tests.factories import BikeFactory, CustomerFactory, RiderFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
PX_PER_STEP = 5
FIRST_MM = 10
"""The preload that the factories' fork comes in with."""


@pytest.fixture
def card(shop, technician):
    customer = CustomerFactory(business=shop.business, name="Tamsin Quarrel")
    bike = BikeFactory(business=shop.business, owner=customer)
    actor = Actor(technician, None)
    card = open_card(actor, bike=bike, customer=customer, rider=RiderFactory(customer=customer), complaint="Dives.")
    loads = {"axle_alone_kg": 58, "axle_rider_kg": 90}
    taken = [
        {"stage": "received", "end": "front", "quantity": name, "value": value, "instrument": ""}
        for name, value in loads.items()
    ]
    take_readings(actor, card, taken)
    return card


@pytest.fixture
def answers(page):
    found = []
    page.on("response", lambda got: found.append(got) if got.url.endswith("/api/follow/") else None)
    return found


@pytest.fixture
def opened(enter, page, technician, card, answers):
    page.set_default_timeout(PATIENCE_MS)
    # What a drag rests on, and its first steps, have come before the hand does.
    with page.expect_response("**/api/follow/"):
        enter(technician, f"#/cards/{card.pk}/chosen")
    expect(grip(page)).to_be_visible()
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM} mm")
    return page


def grip(page, name="Preload"):
    return page.locator(".in-hand").get_by_role("slider", name=name, exact=True)


def kept(card):
    found = everywhere(Setting, why="this test").filter(card=card, stage="chosen", end="front").first()
    return found and [leg["preload_mm"] for leg in found.body["legs"]]


def middle(found):
    box = found.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def curve(page):
    return page.locator(".in-hand .pic-trace").last.get_attribute("points")


def settled(page):
    expect(page.locator(".card-state")).to_have_text("All saved.")


@pytest.mark.parametrize("missing", ["pointerrawupdate", "pointermove"])
def test_the_picture_follows_before_a_frame_begins_and_in_browsers_that_tell_only_with_the_frame(opened, missing):
    page, before = opened, curve(opened)
    page.evaluate("(kind) => addEventListener(kind, (event) => event.stopImmediatePropagation(), true)", missing)
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 4 * PX_PER_STEP, steps=4)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 2} mm")
    expect(page.locator(".in-hand .pic-trace").last).not_to_have_attribute("points", before)
    page.mouse.up()


def test_by_mouse_the_picture_follows_and_let_go_it_is_an_entry_that_can_be_taken_back(opened, card, seen_by_all):
    page, before = opened, curve(opened)
    verdict = page.locator(".in-hand .verdict").text_content()
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 4 * PX_PER_STEP, steps=4)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 2} mm")
    expect(page.locator(".in-hand .verdict")).not_to_have_text(verdict)
    expect(page.locator(".in-hand .pic-trace").last).not_to_have_attribute("points", before)
    assert kept(card) is None, "nothing is entered while it is only tried"
    page.mouse.up()
    undo = page.get_by_role("button", name="Undo: front, chosen")
    expect(undo).to_be_visible()
    settled(page)
    assert kept(card) == [FIRST_MM + 2] * 2
    expect(page.get_by_role("textbox", name="Preload", exact=True)).to_have_value(str(FIRST_MM + 2))
    seen_by_all()
    undo.click()
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM} mm")
    assert kept(card) == [FIRST_MM] * 2


def test_by_finger(opened, card):
    page = opened
    x, y = middle(grip(page))
    touch = page.context.new_cdp_session(page)

    def send(kind, *points):
        at = [{"x": x, "y": y + far} for far in points]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    send("touchStart", 0)
    for steps in (1, 2, 3, 4):
        send("touchMove", steps * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM - 2} mm")
    send("touchEnd")
    expect(page.get_by_role("button", name="Undo: front, chosen")).to_be_visible()
    settled(page)
    assert kept(card) == [FIRST_MM - 2] * 2


@pytest.mark.parametrize(
    ("name", "key", "said"),
    [("Preload", "ArrowUp", "10.5 mm"), ("Rate", "ArrowDown", "4.5 N/mm"), ("Air gap", "PageUp", "115 mm")],
)
def test_by_keyboard_in_the_steps_of_the_trade(opened, card, name, key, said):
    page, before = opened, curve(opened)
    grip(page, name).focus()
    page.keyboard.press(key)
    expect(grip(page, name)).to_have_attribute("aria-valuetext", said)
    expect(grip(page, name)).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Undo: front, chosen")).to_be_visible()
    settled(page)
    expect(page.locator(".in-hand .pic-trace").last).not_to_have_attribute("points", before)


def test_without_network_the_picture_stays_marked_no_verdict_is_given_and_the_value_is_kept(opened, card):
    page, before = opened, curve(opened)
    page.context.set_offline(True)
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 20 * PX_PER_STEP)  # further than what was asked before
    expect(page.locator(".in-hand .picture-state")).to_contain_text("not recalculated")
    expect(page.locator(".in-hand .verdict")).to_have_text("No network: not recalculated.")
    assert curve(page) == before
    page.mouse.up()
    expect(page.locator(".card-state")).to_contain_text("kept on this device")
    assert kept(card) is None
    page.context.set_offline(False)
    settled(page)
    assert kept(card) == [FIRST_MM + 10] * 2
    expect(page.locator(".in-hand .picture")).not_to_have_class(re.compile("stale"))


def asked_of(one):
    return [values["legs.0.preload_mm"] for values in one.request.post_data_json["tries"]]


def around(answers, path="legs.0.preload_mm", first=FIRST_MM, step=0.5):
    """How many steps of a knob, up and down, have been asked for with all else as it stands."""
    asked = {values[path] for one in answers for values in one.request.post_data_json["tries"]}
    return next(steps for steps in range(100) if not {first + step * steps, first - step * steps} <= asked) - 1


def test_what_the_hand_may_reach_next_is_asked_before_and_then_shown_without_asking(opened, answers):
    page = opened
    assert len(answers) == 1, "one question when Chosen opens"
    assert around(answers) == around(answers, "legs.0.air_gap_mm", 110, 1) == 4, "some steps of each handle"
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    with page.expect_response("**/api/follow/"):
        page.mouse.down()
    assert around(answers) == 16, "more of the one that a hand lies on"
    before = curve(page)
    page.mouse.move(x, y - 3 * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 1.5} mm")
    there = curve(page)
    assert there != before
    assert len(answers) == 2, "what is known some steps around is not asked again"
    with page.expect_response("**/api/follow/"):
        page.mouse.move(x, y - 10 * PX_PER_STEP)
    assert {FIRST_MM + steps / 2 for steps in range(17, 27)} <= set(asked_of(answers[-1])), "the way that the hand goes"
    page.context.set_offline(True)
    page.mouse.move(x, y - 20 * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 10} mm")
    assert curve(page) not in (before, there), "what was answered before is shown without network"
    expect(page.locator(".in-hand .verdict")).not_to_contain_text("No network")
    page.mouse.move(x, y - 3 * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 1.5} mm")
    assert curve(page) == there
    page.context.set_offline(False)
    page.mouse.up()
    settled(page)


def test_what_is_shown_is_what_the_server_draws_of_that_value(opened, answers):
    """Element by element and attribute by attribute, after a drag there and back and there again."""
    page = opened
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    for steps in (8, -6, 3):
        page.mouse.move(x, y - steps * PX_PER_STEP, steps=6)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 1.5} mm")
    page.wait_for_timeout(500)
    bodies = [(asked_of(got), got.json()) for got in answers]
    found = next(
        (told["picture"], told["tries"][tries.index(FIRST_MM + 1.5)])
        for tries, told in bodies
        if FIRST_MM + 1.5 in tries
    )
    told = page.evaluate(
        """([picture, side]) => {
          const drawn = new DOMParser().parseFromString(picture, "image/svg+xml").documentElement;
          const wanted = [drawn, ...drawn.querySelectorAll("*")];
          for (const [place, values] of Object.entries(side.changes)) {
            for (const [name, value] of Object.entries(values)) {
              if (name) wanted[place].setAttribute(name, value);
              else wanted[place].textContent = value;
            }
          }
          const svg = document.querySelector(".in-hand .picture-frame svg");
          const shown = [svg, ...svg.querySelectorAll("*")];
          const own = (one) => [...one.attributes].map(({ name, value }) => `${name}=${value}`)
            .filter((each) => !/^(id|aria-labelledby|aria-describedby|xmlns)=/.test(each)).sort().join(" ");
          const said = (one) => (one.childElementCount ? "" : one.textContent);
          const as = (one) => `${one.localName} ${own(one)} ${said(one)}`;
          return [shown.map(as), wanted.map(as)];
        }""",
        found,
    )
    assert told[0] == told[1]
    page.mouse.up()


def test_while_the_hand_moves_the_pictures_words_wait_and_once_it_rests_they_are_true(opened):
    page = opened
    page.evaluate(
        """() => {
          window.late = new Set();
          const behind = ({ target }) => target.classList.contains("is-behind") && late.add(target);
          const watch = (all) => all.forEach(behind);
          const picture = document.querySelector(".in-hand .picture-frame");
          new MutationObserver(watch).observe(picture, { subtree: true, attributeFilter: ["class"] });
        }"""
    )
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 4 * PX_PER_STEP, steps=4)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 2} mm")
    page.wait_for_function("late.size >= 2")
    assert "line" in page.evaluate("[...late].map((one) => one.localName)"), "a leader to a label waits with it"
    expect(page.locator(".in-hand .is-behind")).to_have_count(0)
    for kind in ("static", "rider"):
        sag = page.locator(f".in-hand [id^='sag-front-{kind}'] b").text_content()
        expect(page.locator(".in-hand .pic-sag", has_text=re.compile(f"^{sag}$"))).not_to_have_count(0)
    page.mouse.up()


def test_a_longer_verdict_gets_its_room_while_the_hand_drags(opened):
    page = opened
    verdict = page.locator(".in-hand .verdict-words")
    x, y = middle(grip(page, "Rate"))
    page.mouse.move(x, y)
    page.mouse.down()
    lengths = [len(verdict.text_content())]
    for steps in range(1, 13):
        page.mouse.move(x, y + steps * PX_PER_STEP)
        page.wait_for_timeout(50)
        lengths.append(len(verdict.text_content()))
        assert verdict.evaluate("words => words.scrollHeight <= words.clientHeight + 1")
    assert max(lengths) > lengths[0] + 20, "none was longer"
    page.mouse.up()
    settled(page)
    expect(verdict).not_to_have_class(re.compile("is-still"))


def test_one_question_is_on_its_way_and_the_newest_is_what_stands(opened):
    page = opened
    asked, held = [], []

    def hold(route):
        asked.append(asked_of(route))
        held.append(route)

    page.route("**/api/follow/", hold)
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    for steps in range(1, 41):
        page.mouse.move(x, y - steps * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 20} mm")
    page.wait_for_timeout(300)
    assert len(asked) == 1, "a second question left before the first was answered"
    held.pop().continue_()
    with page.expect_request("**/api/follow/"):
        pass
    page.wait_for_timeout(300)
    assert len(asked) == 2
    assert asked[1][0] == FIRST_MM + 20, "what was overtaken is asked before what stands"
    with page.expect_response("**/api/follow/") as last:
        held.pop().continue_()
    sag = last.value.json()["tries"][0]["result"]["rider_sag_mm"]
    expect(page.locator("[id^=sag-front-rider] b")).to_have_text(f"{sag:.0f}")
    page.mouse.up()
