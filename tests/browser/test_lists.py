"""The lists and what hangs on them: cards, bikes, customers, springs, the business."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from setups.verbs.kinds import start_kinds
from shops.access import everywhere
from shops.models import StockSpring, Tool
from tests.factories import (
    PASSWORD,
    BikeFactory,
    CustomerFactory,
    JobCardFactory,
    RiderFactory,
    StockSpringFactory,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def bike(business):
    start_kinds(business)
    owner = CustomerFactory(business=business, name="Ottilie Marsh")
    return BikeFactory(business=business, owner=owner, model="Curlew", plate="ZK 77")


KEPT = "JSON.stringify(localStorage)"


def is_change(request):
    return request.method == "PATCH"


def fork(page):
    return page.locator("section.sheet", has=page.get_by_role("heading", name="Fork"))


def test_an_empty_place_says_what_goes_there(enter, technician, seen_by_all):
    page = enter(technician)
    for address, words in (
        ("#/cards", "No job card yet."),
        ("#/bikes", "No bike yet."),
        ("#/springs", "No spring on the list yet."),
        ("#/business?part=tools", "No tool yet."),
    ):
        page.evaluate(f"location.hash = '{address}'")
        expect(page.get_by_text(words)).to_be_visible()
    seen_by_all()


def test_cards_are_searched_and_narrowed_by_step(enter, technician, shop, sister_shop, stranger, seen_by_all):
    start_kinds(shop.business)
    mine = JobCardFactory(shop=shop, number="HY-0001", step="built", bike__plate="ZK 77")
    theirs = JobCardFactory(shop=sister_shop, number="MY-0001")
    JobCardFactory(shop=stranger.shop, number="RS-0001")
    page = enter(technician)
    expect(page.get_by_text("2 job cards")).to_be_visible()
    expect(page.locator("li", has_text="MY-0001")).to_contain_text("Mill Yard")
    seen_by_all()
    page.get_by_label("Find a job card").fill(mine.bike.plate)
    expect(page.get_by_text("1 job card")).to_be_visible()
    expect(page.locator("li", has_text="HY-0001")).to_be_visible()
    page.get_by_label("Find a job card").fill("")
    page.get_by_label("Step").select_option(label="as received")
    expect(page.locator("li", has_text="MY-0001")).to_be_visible()
    expect(page.locator("li", has_text="HY-0001")).not_to_be_visible()
    page.get_by_label("Find a job card").fill(f"{theirs.number} nowhere")
    expect(page.get_by_text("No job card matches")).to_be_visible()


def test_a_bike_shows_its_data_with_origins_and_its_jobs(enter, technician, bike, sister_shop, seen_by_all):
    bike.sources = {"front.stroke_mm": {"from": "manual", "edition": "2019 workshop", "page": "11-4"}}
    bike.save()
    JobCardFactory(shop=sister_shop, bike=bike, customer=bike.owner, complaint="Bottoms out.")
    page = enter(technician, f"#/bikes/{bike.pk}")
    stroke = page.locator("dl.facts > div", has_text="Stroke")
    expect(stroke).to_contain_text("manual, 2019 workshop, p. 11-4")
    expect(page.locator("dl.facts > div", has_text="Rake")).to_contain_text("assumed")
    expect(page.locator("li", has_text="Bottoms out.")).to_contain_text("Mill Yard")
    seen_by_all()


def test_a_bikes_data_are_changed_with_their_origin(enter, technician, bike, seen_by_all):
    page = enter(technician, f"#/bikes/{bike.pk}")
    fork(page).get_by_role("button", name="Change", exact=True).click()
    seen_by_all()
    fork(page).get_by_role("button", name="where Stroke comes from").click()
    page.locator("label", has_text="measured here").click()
    page.get_by_role("button", name="Set").click()
    fork(page).get_by_role("textbox", name="Stroke", exact=True).fill("298,5")
    fork(page).get_by_role("button", name="Rake: 0.5 ° more").click()
    fork(page).get_by_role("button", name="Save").click()
    expect(page.locator("dl.facts > div", has_text="Stroke")).to_contain_text("298.5 mm")
    bike.refresh_from_db()
    assert bike.front["stroke_mm"] == 298.5
    assert bike.front["rake_deg"] == 27
    assert bike.sources["front.stroke_mm"] == {"from": "measured"}
    assert bike.front["legs"][0] == bike.front["legs"][1], "both legs were alike and stay so"


def test_a_slip_is_asked_about_in_its_place_and_a_refusal_is_tied_to_its_field(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    fork(page).get_by_role("button", name="Change", exact=True).click()
    rate = fork(page).get_by_role("textbox", name="Rate", exact=True).first
    rate.fill("46")
    rate.blur()
    fork(page).get_by_role("button", name="4.6 N/mm", exact=True).click()
    expect(rate).to_have_value("4.6")
    rate.fill("46")
    rate.blur()
    fork(page).get_by_role("button", name="keep 46 N/mm").click()
    fork(page).get_by_role("button", name="Save").click()
    expect(rate).to_have_attribute("aria-invalid", "true")
    note = page.locator(f"#{rate.get_attribute('aria-describedby')}")
    expect(note).to_contain_text("did you mean 4.6")
    expect(rate).to_be_focused()
    bike.refresh_from_db()
    assert bike.front["legs"][0]["spring"]["rate_n_per_mm"] == 4.6


def test_two_versions_of_one_bike_are_shown_side_by_side(enter, technician, bike, seen_by_all):
    page = enter(technician, f"#/bikes/{bike.pk}")
    page.get_by_role("button", name="Change", exact=True).first.click()
    page.get_by_label("Plate").fill("MINE 1")
    bike.plate, bike.version = "THEIRS 2", bike.version + 1
    bike.save()
    page.get_by_role("button", name="Save").click()
    row = page.get_by_role("dialog").locator("tr", has_text="plate")
    expect(row).to_contain_text("THEIRS 2")
    expect(row).to_contain_text("MINE 1")
    seen_by_all()
    page.get_by_role("button", name="Save mine over it").click()
    expect(page.locator("dl.facts > div", has_text="Plate")).to_contain_text("MINE 1")
    bike.refresh_from_db()
    assert bike.plate == "MINE 1"


def test_what_is_typed_survives_a_reload(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    fork(page).get_by_role("button", name="Change", exact=True).click()
    fork(page).get_by_role("textbox", name="Stroke", exact=True).fill("291")
    fork(page).get_by_role("textbox", name="Cap to spring seat").fill("1,000")
    page.reload()
    fork(page).get_by_role("button", name="Change", exact=True).click()
    expect(fork(page).get_by_role("textbox", name="Stroke", exact=True)).to_have_value("291")
    expect(fork(page).get_by_role("textbox", name="Cap to spring seat")).to_have_value("1,000")
    expect(fork(page).get_by_text("1,000: is that 1 or 1000?")).to_be_visible()
    fork(page).get_by_role("button", name="Start afresh").click()
    expect(fork(page).get_by_role("textbox", name="Stroke", exact=True)).to_have_value("300")


def test_a_change_made_without_network_is_kept_and_sent_later(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    page.get_by_role("button", name="Change", exact=True).first.click()
    page.get_by_label("Plate").fill("LATER 3")
    page.context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#state")).to_have_text("Kept on this tablet — no connection")
    assert "LATER 3" in page.evaluate(KEPT)
    page.context.set_offline(False)
    expect(page.locator("dl.facts > div", has_text="Plate")).to_contain_text("LATER 3")
    bike.refresh_from_db()
    assert bike.plate == "LATER 3"
    assert "LATER 3" not in page.evaluate(KEPT), "acknowledged: the tablet forgets it"


def test_a_change_kept_before_a_reload_goes_out_by_itself(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    page.route("**/api/bikes/*/", lambda each: each.abort() if is_change(each.request) else each.continue_())
    page.get_by_role("button", name="Change", exact=True).first.click()
    page.get_by_label("Plate").fill("LATER 3")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#state")).to_have_text("Kept on this tablet — no connection")
    page.unroute_all()
    with page.expect_response(lambda answer: is_change(answer.request) and "/api/bikes/" in answer.url):
        page.reload()
    bike.refresh_from_db()
    assert bike.plate == "LATER 3"


def test_a_kept_change_that_clashes_after_a_reload_waits_for_a_decision(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    page.route("**/api/bikes/*/", lambda each: each.abort() if is_change(each.request) else each.continue_())
    page.get_by_role("button", name="Change", exact=True).first.click()
    page.get_by_label("Plate").fill("MINE 1")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#state")).to_have_text("Kept on this tablet — no connection")
    bike.plate, bike.version = "THEIRS 2", bike.version + 1
    bike.save()
    page.unroute_all()
    page.reload()
    page.get_by_role("button", name="One change was not accepted: look").click()
    row = page.get_by_role("dialog").locator("tr", has_text="plate")
    expect(row).to_contain_text("THEIRS 2")
    expect(row).to_contain_text("MINE 1")
    with page.expect_response(lambda answer: is_change(answer.request) and answer.ok):
        page.get_by_role("button", name="Save mine over it").click()
    bike.refresh_from_db()
    assert bike.plate == "MINE 1"


def test_a_change_whose_answer_was_lost_is_no_clash_with_oneself(enter, technician, bike):
    page = enter(technician, f"#/bikes/{bike.pk}")
    lost = []

    def lose_the_first_answer(route):
        if is_change(route.request) and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    page.route("**/api/bikes/*/", lose_the_first_answer)
    page.get_by_role("button", name="Change", exact=True).first.click()
    page.get_by_label("Plate").fill("LOST 4")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("dl.facts > div", has_text="Plate")).to_contain_text("LOST 4", timeout=15_000)
    expect(page.get_by_role("dialog")).not_to_be_visible()
    assert lost == [200]


def test_a_customer_and_a_rider_are_changed(enter, technician, bike, seen_by_all):
    RiderFactory(customer=bike.owner, name="Ottilie Marsh", mass_in_kit_kg=None)
    page = enter(technician, f"#/customers/{bike.owner_id}")
    expect(page.get_by_text("not weighed")).to_be_visible()
    expect(page.get_by_role("link", name="Curlew")).to_be_visible()
    seen_by_all()
    page.get_by_role("button", name="Change Ottilie Marsh").click()
    page.get_by_role("textbox", name="Mass in kit").fill("91,5")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("dd", has_text="91.5 kg")).to_be_visible()


def test_a_manager_keeps_the_springs_a_technician_reads_them(enter, technician, manager, shop, seen_by_all):
    StockSpringFactory(shop=shop, code="F460", sort_rate_n_per_mm=4.6)
    page = enter(technician, "#/springs")
    expect(page.locator("li", has_text="F460")).to_contain_text("4.6 N/mm")
    expect(page.get_by_role("button", name="New spring")).not_to_be_visible()
    page.context.clear_cookies()
    page = enter(manager, "#/springs")
    page.reload()
    page.get_by_role("button", name="New spring").click()
    seen_by_all()
    page.get_by_label("Code").fill("S520")
    page.get_by_label("Label").fill("Shock 52")
    page.locator("label", has_text="shock").click()
    page.get_by_role("textbox", name="Rate", exact=True).fill("52")
    page.get_by_role("textbox", name="On the shelf").fill("3")
    page.get_by_role("button", name="Put it on the list").click()
    expect(page.locator("li", has_text="S520")).to_contain_text("3 on the shelf")
    spring = everywhere(StockSpring, why="test").get(code="S520")
    assert (spring.end, spring.spring, spring.stock) == ("rear", {"kind": "straight", "rate_n_per_mm": 52}, 3)
    page.get_by_role("button", name="F460").click()
    page.get_by_role("textbox", name="On the shelf").fill("0")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li", has_text="F460")).to_contain_text("none on the shelf")


def test_a_manager_keeps_bands_people_and_tools(enter, manager, shop, seen_by_all):
    start_kinds(shop.business)
    page = enter(manager, "#/business")
    seen_by_all()
    page.get_by_role("button", name="enduro").first.click()
    page.get_by_role("textbox", name="Rider sag, most").fill("36")
    page.get_by_label("Source").fill("our own measurements")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li", has_text="our own measurements")).to_contain_text("36 %")
    page.get_by_role("link", name="Tools").click()
    page.get_by_role("button", name="New tool").click()
    page.get_by_label("Name").fill("Wrench 20 to 120 N·m")
    page.get_by_label("Serial number").fill("W-77")
    page.get_by_label("Calibration due").fill("2020-01-31")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li", has_text="W-77")).to_contain_text("overdue since 31 Jan 2020")
    assert everywhere(Tool, why="test").filter(shop=shop, serial="W-77").exists()
    page.get_by_role("link", name="People").click()
    seen_by_all()
    page.get_by_role("button", name="New person").click()
    page.get_by_label("Name").fill("Lio Brandt")
    page.get_by_label("E-mail").fill("lio@springwell.example")
    page.get_by_label("First password").fill("a long new phrase")
    assert "a long new phrase" not in page.evaluate(KEPT)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li", has_text="Lio Brandt")).to_be_visible()
    page.get_by_role("link", name="Shops").click()
    expect(page.get_by_text("1 shop")).to_be_visible()
    page.get_by_role("button", name="Harbour Yard").click()
    page.get_by_label("Address").fill("2 Quay Lane")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li", has_text="2 Quay Lane")).to_be_visible()
    page.get_by_role("link", name="Audit").click()
    page.get_by_role("link", name="Changes").click()
    expect(page.locator("li", has_text="add person")).to_contain_text("Imke Daveney")


def test_a_person_changes_the_own_password_and_units(enter, technician, seen_by_all):
    page = enter(technician, "#/me")
    seen_by_all()
    page.locator("label", has_text="kgf/mm").click()
    page.get_by_label("Current password").fill("not it")
    page.get_by_label("New password").fill("seven plum anvils")
    page.get_by_role("button", name="Change it").click()
    expect(page.get_by_label("Current password")).to_have_attribute("aria-invalid", "true")
    page.get_by_label("Current password").fill(PASSWORD)
    page.get_by_role("button", name="Change it").click()
    expect(page.locator("#state")).to_contain_text("The password is changed")
    assert "seven plum anvils" not in page.evaluate(KEPT)
    technician.refresh_from_db()
    assert technician.check_password("seven plum anvils")
    assert technician.units["rate"] == "kgf/mm"


def test_the_program_opens_without_network_once_it_was_here(live_server, browser, technician):
    context = browser.new_context(base_url=live_server.url)
    page = context.new_page()
    page.goto("/")
    page.get_by_label("E-mail").fill(technician.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.evaluate(
        """async () => {
          const script = document.querySelector("script[src]").src;
          while (!(await caches.match("/") && await caches.match(script, {ignoreVary: true})))
            await new Promise((resolve) => setTimeout(resolve, 100));
        }"""
    )
    stored = page.evaluate(
        "caches.keys().then((all) => Promise.all(all.map((each) => caches.open(each).then((s) => s.keys()))))"
        ".then((all) => all.flat().map((each) => new URL(each.url).pathname))"
    )
    assert not [path for path in stored if path.startswith("/api/")], "answers of the API are never kept"
    context.set_offline(True)
    page.goto("/#/new-card")
    page.reload()
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    context.close()
