"""What the truck carries: counted by hand, and the list as it prints."""

from dataclasses import replace

import pytest

from lightcalc.answers.kit_totals import setup_items, shoot_totals, totals
from lightcalc.answers.shoot_order import day_course, shoot_order
from lightcalc.answers.shot_list import Shot
from lightcalc.paper.carry_list import carry_pages
from lightcalc.paper.page import plain_look
from lightcalc.scene.parts import Circuit, HazeMachine

import drawn_parts as parts
from drawn_words import clashes, outside
from printed_parts import page_boxes

LOFT = parts.loft()


def counted(items):
    return {(item.kind, item.name): item.count for item in items}


def shot_of(setup, minutes=60, **more):
    return Shot(setup, setup.day, minutes, True, None, 0, 2880, None, **more)


def test_one_setup_by_hand():
    # DERIVED: two lamps, a board of 1.8 m (two stands), a flag and a frame of 1.2 m: six stands; a lamp at 3.1 m takes two bags.
    found = counted(setup_items(parts.shoot(LOFT), LOFT))
    assert found["lamp", "1 kW tungsten spot"] == 1 and found["lamp", "60x60 cm soft panel"] == 1
    assert found["board", "white sheet, 1.2 x 1.8 m"] == 1 and found["flag", "black, 0.6 x 0.9 m"] == 1
    assert found["gel", "half blue, for 1 kW tungsten spot"] == 1
    assert found["stand", "stand"] == 6 and found["sandbag", "sandbag"] == 7
    assert not [item for item in setup_items(parts.shoot(LOFT), LOFT) if item.kind == "cable"], "no sockets, no cable known"


def test_what_goes_on_counts_once_and_what_differs_adds():
    two = LOFT.with_part("soft fill", kit="1 kW tungsten spot")
    shoot = parts.shoot(LOFT, replace(two, name="2"))
    course = day_course([shot_of(LOFT), shot_of(replace(two, name="2"))], 480)
    found = totals(shoot, course.slots, "day")
    # DERIVED: the second setup asks for two 1 kW at once, the first for one; the soft panel is only in the first.
    assert counted(found.items)["lamp", "1 kW tungsten spot"] == 2 and counted(found.items)["lamp", "60x60 cm soft panel"] == 1
    item = next(i for i in found.items if i.name == "1 kW tungsten spot")
    assert item.setups == ("2A", "2") and item.rests_on.startswith("kit: ")


def test_cable_fluid_and_batteries():
    room = replace(LOFT.place, air_changes_per_h=0.8, circuits=(Circuit(name="c", sockets=((0.0, 0.0, 0.0),)),))
    lit = replace(LOFT, place=room).with_part("soft fill", battery_wh=98.0)
    shoot = replace(parts.shoot(lit), haze_machine=HazeMachine(fluid_g_per_min=1.0, droplet_share=0.1))
    course = day_course([shot_of(lit)], 480)
    found = counted(totals(shoot, course.slots, "day").items)
    # DERIVED: |2.3| + |2.0| + |3.1| + 2 m to spare are 9.4 m: two lengths of 5. 60 min of 120 W from 98 Wh x 0.72 are 1.70
    # batteries, a quarter more 2.13: three.
    assert found["cable", "cable, 1.5 mm²"] == 10 and found["battery", "98 Wh, for 60x60 cm soft panel"] == 3
    from lightcalc.answers.haze_plan import air_plan

    plan = air_plan(shoot, lit)
    assert course.slots[0].air_min == 0, "this shot does not know its air"
    assert found["fluid", "haze fluid, glycol"] == pytest.approx(1.25 * plan.hold_fluid_g_per_h, abs=1)


def test_fluid_that_cannot_be_counted_is_said():
    shoot = parts.shoot(LOFT)
    found = totals(shoot, day_course([shot_of(LOFT)], 480).slots, "day")
    assert not [item for item in found.items if item.kind == "fluid"]
    assert found.notes and "fluid not counted" in found.notes[0]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_list_prints(paper):
    shoot = parts.shoot(LOFT, parts.crowd())
    order = shoot_order(shoot, [shot_of(LOFT), shot_of(parts.crowd())])
    whole, days = shoot_totals(shoot, order)
    assert len(days) == 1 and counted(whole.items) == counted(days[0].items)
    with plain_look():
        pages = carry_pages(shoot, order, paper=paper)
    for page in pages:
        words = page_boxes(page)
        assert outside(words, page.bbox) == [] and clashes(words) == []
