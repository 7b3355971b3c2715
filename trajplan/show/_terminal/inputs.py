"""What goes into a plan, as text for a terminal: mesh and fracture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from trajplan.show._terminal.table import bullets, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.bone import Audit, Body, Surface
    from trajplan.fracture import Fracture

__all__ = [
    "audit_text",
    "bodies_text",
    "fracture_text",
]


def bodies_text(bodies: Sequence[Body], *, most: int = 20) -> str:
    """The bodies of a mesh for a person at a terminal, the largest first.

    Parameters
    ----------
    bodies : sequence of Body
        The bodies.
    most : int
        Bodies that are written out; the rest is counted.

    Returns
    -------
    str
    """
    head = ("body", "size mm", "middle mm", "area cm²", "faces", "closed")
    rows = []
    for body in sorted(bodies, key=lambda body: -body.area)[:most]:
        size, middle = body.size, (body.low + body.high) / 2.0
        rows.append(
            (
                str(body.number),
                " x ".join(f"{side:.1f}" for side in size),
                ", ".join(f"{at:.1f}" for at in middle),
                f"{body.area / 100:.1f}",
                f"{body.faces:,}",
                "yes" if body.closed else "no",
            )
        )
    left = len(bodies) - len(rows)
    rest = f"\nand {left} smaller" if left else ""
    return "Bodies (a case takes some with bone.body):\n" + table(head, rows) + rest


def audit_text(surface: Surface, audit: Audit, said: Sequence[str] = ()) -> str:
    """An audit for a person at a terminal.

    Parameters
    ----------
    surface : Surface
        The mesh.
    audit : Audit
        What was found.
    said : sequence of str
        Sentences that follow its cautions.

    Returns
    -------
    str
    """
    size = audit.high - audit.low
    yes = {True: "yes", False: "no"}
    volume = (
        "unknown, not closed" if audit.volume != audit.volume else f"{audit.volume / 1e3:.2f} cm³"
    )
    rows = [
        ("faces", f"{audit.faces:,}"),
        ("vertices", f"{audit.vertices:,} ({audit.merged:,} copies merged)"),
        ("size", f"{size[0]:.1f} x {size[1]:.1f} x {size[2]:.1f} mm"),
        ("coordinate step", f"{audit.step:.2g} mm" if audit.step else "double precision"),
        ("volume", volume),
        ("area", f"{audit.area / 100:.1f} cm²"),
        (
            "closed",
            yes[audit.closed] + (f", {audit.open_edges} open edges" if audit.open_edges else ""),
        ),
        ("winding agrees", yes[audit.wound]),
        ("inverted shells", str(audit.inverted)),
        ("degenerate faces", str(audit.degenerate)),
        ("duplicate faces", str(audit.duplicate)),
        ("bodies", str(audit.bodies)),
        ("canal modelled", yes[audit.canal]),
    ]
    if surface.groups:
        rows.append(
            ("groups", ", ".join(f"{name} ({len(f)})" for name, f in surface.groups.items()))
        )
    lines = "\n".join(f"{key:18s}{value}" for key, value in rows)
    return "\n".join(
        part for part in (surface.name, lines, bullets((*audit.cautions, *said))) if part
    )


def fracture_text(fracture: Fracture, names: Sequence[str] = ()) -> str:
    """A fracture for a person at a terminal.

    Parameters
    ----------
    fracture : Fracture
        The fracture.
    names : sequence of str
        Of the fragments, as `Zone.fragments` counts them.

    Returns
    -------
    str
    """
    rows = []
    for zone in fracture.zones:
        fit, n = zone.fit, zone.plane.normal
        bound = "exact" if math.isnan(fit.normal_bound) else f"{fit.normal_bound:.2f}"
        rows.append(
            (
                zone.id,
                f"{zone.area:.1f}",
                f"{fit.extents[0]:.1f} x {fit.extents[1]:.1f}",
                f"{n[0]:.4f} {n[1]:.4f} {n[2]:.4f}",
                bound,
                f"{fit.rms:.3f}",
                f"{fit.largest:.3f}",
                str(fit.left_out),
                fit.flatness,
                " + ".join(names[body] for body in zone.fragments or ()) or "-",
            )
        )
    head = (
        "zone",
        "area mm²",
        "extents mm",
        "normal",
        "95 % bound deg",
        "rms mm",
        "largest mm",
        "left out",
        "shape",
        "parts",
    )
    return table(head, rows) + ("\n" + bullets(fracture.cautions) if fracture.cautions else "")
