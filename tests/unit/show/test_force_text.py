"""Forces in the print of a plan: torques, surfaces and their zones, the load that opens them."""

import pytest
from edited_plans import few_draws

from trajplan.files import ChanceRecord, OpeningRecord, SurfaceRecord, ZoneShareRecord
from trajplan.show._terminal.forces import Forces, times_text


def force_text(plan):
    """What a print says of forces, its screws taken down one by one."""
    forces = Forces()
    for screw in plan.screws:
        forces.take(screw)
    return forces.text(plan)


@pytest.fixture(scope="module")
def record():
    return few_draws().record


def surface(**changes):
    data = {"zones": ("Z1", "Z2"), "screws": 2, "force": 900.0, "area": 60.0, "share": 0.4,
            "mean": 15.0, "peak": 31.2, "solved": True,
            "by_zone": (ZoneShareRecord(zone="Z1", share=0.75, peak=31.2),
                        ZoneShareRecord(zone="Z2", share=0.05, peak=2.0))}  # fmt: skip
    return SurfaceRecord(**(data | changes))


def with_surfaces(record, *surfaces):
    return record.model_copy(
        update={"contact": record.contact.model_copy(update={"surfaces": surfaces})}
    )


def test_torques_are_ranges_with_the_useful_share(record):
    text = force_text(record)
    screw = record.screws[0]
    low, high = screw.stripping_torque.low, screw.stripping_torque.high
    assert low < high
    assert f"{low:.1f} to {high:.1f}" in text
    assert f"{screw.breaking_torque.low:.1f} to {screw.breaking_torque.high:.1f}" in text
    assert "80 %" in text


def test_one_flat_surface_needs_no_lines_of_its_own(record):
    assert "of it" not in force_text(record)
    assert "zone by zone" not in force_text(record)
    folded = force_text(with_surfaces(record, surface()))
    assert "pressed zone by zone: Z1 75 %, Z2 5 %." in folded


def test_every_surface_has_a_line(record):
    bare = surface(fragments=("B", "C"), screws=0, share=0.0, force=0.0, by_zone=())
    lost = surface(fragments=("A", "C"), share=None, solved=False)
    text = force_text(with_surfaces(record, surface(fragments=("A", "B")), bare, lost))
    assert "A and B: 900 N press 40 % of it (Z1 75 %, Z2 5 %), peak 31.2 MPa." in text
    assert "B and C: no lag screw presses it." in text
    assert "A and C: how it is pressed was not found." in text


def test_the_chance_by_hand_is_explained_by_its_parts(record):
    """Harm, less than planned, and room to spare that is used up, the most frequent first."""
    rules = tuple(
        ChanceRecord(rule=rule, chance=chance, low=0.0, high=1.0)
        for rule, chance in (("tilt", 0.02), ("thread_across", 0.12), ("wall_breach", 0.3),
                             ("screw_gap", 0.4))
    )  # fmt: skip
    placement = record.placement.model_copy(update={"rules": rules})
    text = " ".join(force_text(record.model_copy(update={"placement": placement})).split())
    assert (
        "Of the tries, harm by: thread_across 12 %; less than planned by: wall_breach 30 %, tilt "
        "2 %; no loss, room to spare used up: screw_gap 40 %." in text
    )
    seldom = record.placement.model_copy(
        update={"rules": (rules[0].model_copy(update={"chance": 0.004}),)}
    )
    assert "Every rule is kept in more than 99 % of the tries." in force_text(
        record.model_copy(update={"placement": seldom})
    )


@pytest.mark.parametrize(
    ("opening", "said"),
    [
        (OpeningRecord(unknown="the bone has no shaft"), "cannot be told, the bone has no shaft"),
        (OpeningRecord(low=0.8, high=1.25, gap=2.0, where="between A and B"),
         "slides between A and B at 0.80 to 1.25 times the load"),
        (OpeningRecord(low=0.8, high=1.25, least=0.09), "0.09 times at the least; below 1"),
        (OpeningRecord(low=0.0, high=0.0, gap=2.0), "slide before there is any load"),
        (OpeningRecord(low=1500.0, high=9e5), "at more than 1000 times the load"),
        (OpeningRecord(low=1.5), "1.50 to endless times"),
        (OpeningRecord(), "stays closed and still"),
    ],
)  # fmt: skip
def test_the_load_that_opens_the_fracture(record, opening, said):
    text = force_text(record.model_copy(update={"opening_load": opening}))
    assert said in " ".join(text.split())


def test_bends_that_bear_the_shear_are_named(record):
    endless = record.slip_reserve.model_copy(update={"low": None, "high": None})
    plain = with_surfaces(record, surface()).model_copy(update={"slip_reserve": endless})
    bent = with_surfaces(record, surface(bends=True)).model_copy(update={"slip_reserve": endless})
    assert "the screws make no shear" in force_text(plain)
    assert "bends of the fracture bear the shear" in force_text(bent)
    lost = plain.contact.model_copy(update={"solved": False})
    assert "over shear: cannot be told." in force_text(plain.model_copy(update={"contact": lost}))


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(1.2, 3.4, "1.2 to 3.4"), (2.0, None, "2.0 to endless"), (2.0, 4e3, "2.0 to more than 1000"),
     (4e3, 5e3, "more than 1000")],
)  # fmt: skip
def test_factors_past_plenty_are_not_counted_out(low, high, said):
    assert times_text(low, high, 1) == said
