"""The demo's two businesses: shops, who works there, the workshop tools and who brings bikes."""

from __future__ import annotations

from dataclasses import dataclass

BUSINESS = "Quellmoor Springworks (demo)"
STRANGER = "Orvane Fork and Shock (demo)"
PASSWORD = "preload-is-no-cure"  # noqa: S105  # printed at the start on purpose; it opens invented data only


@dataclass(frozen=True)
class ShopData:
    """A branch of one of the two businesses; `code` begins its card numbers."""

    business: str
    code: str
    name: str
    address: str
    phone: str
    time_zone: str
    paper: str


@dataclass(frozen=True)
class PersonData:
    """Somebody who signs in; `shop` is the shop's code."""

    key: str
    name: str
    role: str
    shop: str

    @property
    def email(self) -> str:
        """Return the address to sign in with, in a domain that is reserved for examples."""
        return f"{self.key}@{'orvane' if self.shop == 'ORV' else 'quellmoor'}.example"


@dataclass(frozen=True)
class ToolData:
    """A tool of one shop; calibration dates count in days from the day the demo is built.

    `certificate` is the number of the latest calibration's certificate.
    """

    shop: str
    kind: str
    name: str
    serial: str
    calibrated_days: int
    due_days: int
    certificate: int


@dataclass(frozen=True)
class CustomerData:
    """Who owns a bike, with those who ride it and their masses in full kit, in kg."""

    key: str
    name: str
    phone: str
    email: str
    notes: str
    riders: tuple[tuple[str, float], ...]


SHOPS = (
    ShopData(BUSINESS, "HAR", "Harbour workshop", "3 Invented Quay\nQuellmoor", "555 0100", "Etc/UTC", "A4"),
    ShopData(
        BUSINESS, "HIL", "Hillside workshop", "12 Invented Rise\nUpper Quellmoor", "555 0120", "Etc/UTC", "A4"
    ),
    ShopData(STRANGER, "ORV", "Orvane", "1 Invented Square\nOrvane", "555 0190", "Etc/GMT+5", "Letter"),
)

PEOPLE = (
    PersonData("tamsin", "Tamsin Orrelby", "technician", "HAR"),
    PersonData("jory", "Jory Velkin", "technician", "HAR"),
    PersonData("maren", "Maren Ashdole", "manager", "HAR"),
    PersonData("bexley", "Bexley Thornquist", "technician", "HIL"),
    PersonData("idris", "Idris Calloweth", "technician", "HIL"),
    PersonData("petra", "Petra Wynslade", "manager", "HIL"),
    PersonData("oswin", "Oswin Quellmoor", "owner", "HAR"),
    PersonData("stranger", "Lorcan Dravewood", "owner", "ORV"),
)

TOOLS = (
    ToolData("HAR", "torque_wrench", "Torque wrench 5 to 60 N·m", "TW-0417", -120, 245, 2231),
    ToolData("HAR", "torque_wrench", "Torque wrench 40 to 210 N·m", "TW-0523", -95, 270, 2240),
    ToolData("HAR", "torque_wrench", "Torque wrench 20 to 100 N·m, old", "TW-0098", -520, -155, 1702),
    ToolData("HAR", "scale", "Axle scales, pair", "AX-31", -60, 305, 2252),
    ToolData("HAR", "spring_tester", "Spring tester to 10 kN", "ST-07", -200, 165, 2198),
    ToolData("HAR", "gauge", "Oil level gauge", "OG-12", -200, 165, 2199),
    ToolData("HIL", "torque_wrench", "Torque wrench 5 to 60 N·m", "TW-1105", -150, 215, 2210),
    ToolData("HIL", "torque_wrench", "Torque wrench 40 to 210 N·m", "TW-1106", -150, 215, 2211),
    ToolData("HIL", "scale", "Axle scales, pair", "AX-44", -30, 335, 2266),
    ToolData("HIL", "spring_tester", "Spring tester to 5 kN", "ST-11", -410, -45, 1888),
    ToolData("ORV", "torque_wrench", "Torque wrench 10 to 110 N·m", "TW-1", -10, 355, 5001),
)

CUSTOMERS = (
    CustomerData(
        "elowen",
        "Elowen Brackwater",
        "555 0131",
        "elowen@brackwater.example",
        "Rides sand and hardpack; races a club series.",
        (("Elowen Brackwater", 98.0),),
    ),
    CustomerData(
        "hollis",
        "Hollis Fenmarrow",
        "555 0132",
        "hollis@fenmarrow.example",
        "Long trips, often with a passenger.",
        (("Hollis Fenmarrow", 96.0), ("Wren Fenmarrow", 68.0)),
    ),
    CustomerData(
        "cassian",
        "Cassian Wolderby",
        "555 0133",
        "",
        "Prefers a call after six.",
        (("Cassian Wolderby", 102.0),),
    ),
    CustomerData(
        "sunniva",
        "Sunniva Larchgrove",
        "555 0134",
        "sunniva@larchgrove.example",
        "",
        (("Sunniva Larchgrove", 66.0), ("Teague Larchgrove", 78.0)),
    ),
    CustomerData(
        "averill",
        "Averill Stonecombe",
        "555 0135",
        "averill@stonecombe.example",
        "Track days only.",
        (("Averill Stonecombe", 84.0), ("Rowan Stonecombe", 108.0)),
    ),
    CustomerData(
        "odile",
        "Odile Marchwicken",
        "555 0136",
        "odile@marchwicken.example",
        "Commutes all year.",
        (("Odile Marchwicken", 74.0),),
    ),
)
"""Customers of the first business."""

STRANGERS_CUSTOMER = CustomerData(
    "merrick", "Merrick Sandelow", "555 0191", "merrick@sandelow.example", "", (("Merrick Sandelow", 81.0),)
)
"""The one customer of the second business, whom nobody of the first may see."""


def sign_ins() -> str:
    """Return the demo's people as lines: address, role, shop and name."""
    names = {shop.code: shop.name for shop in SHOPS}
    rows = [(person.email, person.role, names[person.shop], person.name) for person in PEOPLE]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    return "\n".join("  " + "  ".join([*(f"{row[i]:{widths[i]}}" for i in range(3)), row[3]]) for row in rows)
