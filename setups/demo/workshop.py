"""The demo's businesses and what stands in their shops: people, tools and the spring list."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any

from setups.demo.people import (
    BUSINESS,
    PASSWORD,
    PEOPLE,
    SHOPS,
    STRANGER,
    TOOLS,
    PersonData,
    ShopData,
    ToolData,
)
from setups.demo.springs import NAMES, TESTED, SpringData, shelf
from shops import verbs
from shops.models import Person, Shop, StockSpring, Tool
from shops.trail import Actor

FOUNDED_DAYS_AGO = 1100
CERTIFICATES_A_YEAR = 310


@dataclass(frozen=True)
class Workshop:
    """What the demo has founded: people by key, shops by code, tools by serial, springs by shop and code."""

    people: dict[str, Person]
    shops: dict[str, Shop]
    tools: dict[str, Tool]
    springs: dict[tuple[str, str], StockSpring]

    def actor(self, key: str) -> Actor:
        """Return the person with `key`, acting at the machine itself."""
        return Actor(self.people[key])


def found(today: date) -> Workshop:
    """Found both businesses and fill their shops; the tools' calibration dates count from `today`."""
    workshop = Workshop({}, {}, {}, {})
    for business in (BUSINESS, STRANGER):
        own = [shop for shop in SHOPS if shop.business == business]
        codes = {shop.code for shop in own}
        people = [person for person in PEOPLE if person.shop in codes]
        owner = next(person for person in people if person.role == "owner")
        first = next(shop for shop in own if shop.code == owner.shop)
        workshop.people[owner.key] = verbs.found_business(
            name=business,
            shop=_fields(first),
            owner={"name": owner.name, "email": owner.email, "password": PASSWORD},
        )
        actor = workshop.actor(owner.key)
        workshop.shops[first.code] = actor.person.shop
        for shop in own:
            if shop is not first:
                workshop.shops[shop.code] = verbs.open_shop(actor, **_fields(shop))
        _staff(workshop, actor, [person for person in people if person is not owner])
        for shop in own:
            _equip(workshop, actor, shop.code, today)
    for line, readings in TESTED.items():
        verbs.test_spring(workshop.actor("tamsin"), workshop.springs[line], readings)
    return workshop


def calibrate(workshop: Workshop, today: date, day: date) -> None:
    """Let the owners enter every calibration that has become known by `day`."""
    for tool in TOOLS:
        held, wanted = workshop.tools[tool.serial], _calibration(tool, today, day)
        if held.calibrated_on != wanted["calibrated_on"]:
            actor = workshop.actor("stranger" if tool.shop == "ORV" else "oswin")
            verbs.change_tool(actor, held, held.version, wanted)


def _calibration(tool: ToolData, today: date, day: date) -> dict[str, Any]:
    """Return the calibration in force on `day`: the latest, or one of those at equal intervals before it."""
    interval = timedelta(days=tool.due_days - tool.calibrated_days)
    done, number = today + timedelta(days=tool.calibrated_days), 0
    while done > day:
        done, number = done - interval, number + 1
    return {
        "calibrated_on": done,
        "calibration_due": done + interval,
        "certificate": f"CAL-{tool.certificate - CERTIFICATES_A_YEAR * number}",
    }


def _fields(shop: ShopData) -> dict[str, str]:
    return {name: value for name, value in asdict(shop).items() if name != "business"}


def _staff(workshop: Workshop, actor: Actor, people: list[PersonData]) -> None:
    for person in people:
        workshop.people[person.key] = verbs.add_person(
            actor,
            password=PASSWORD,
            email=person.email,
            name=person.name,
            role=person.role,
            shop=workshop.shops[person.shop],
        )


def _equip(workshop: Workshop, actor: Actor, code: str, today: date) -> None:
    shop = workshop.shops[code]
    for tool in (tool for tool in TOOLS if tool.shop == code):
        workshop.tools[tool.serial] = verbs.add_tool(
            actor,
            shop=shop,
            kind=tool.kind,
            name=tool.name,
            serial=tool.serial,
            **_calibration(tool, today, today - timedelta(days=FOUNDED_DAYS_AGO)),
        )
    for spring in shelf(code):
        workshop.springs[code, spring.code] = verbs.add_spring(actor, shop=shop, **_line(spring))


def _line(spring: SpringData) -> dict[str, object]:
    line = {name: value for name, value in asdict(spring).items() if name != "active_turns"}
    return {**line, "material": NAMES[spring.material]}
