"""A whole business given out as open files, on its owner's request."""

from __future__ import annotations

from typing import IO, Any

from setups.data.travel import write_export
from shops import trail
from shops.trail import Actor


def export_business(actor: Actor, file: IO[bytes]) -> dict[str, Any]:
    """Write the actor's business to `file`, note it in the trail, and return the manifest.

    The file holds what stood at one moment, before this line of the trail.
    """
    business = actor.person.business
    manifest = write_export(file, business)
    rows = sum(table["rows"] for table in manifest["tables"])
    trail.record(actor, "export business", actor.person.shop, None, {"rows": rows, "format": manifest["format"]})
    return manifest
